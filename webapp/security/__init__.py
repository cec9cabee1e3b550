"""Who may come in, and what a browser is told about us."""
