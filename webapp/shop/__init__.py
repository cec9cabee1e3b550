"""The shop's rules: plain functions over a session. No HTTP, no HTML. Rules flush; the caller commits, once."""
