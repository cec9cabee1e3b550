"""Schema changes, one file each in versions/, applied in order at start-up."""
