"""The shop's rules: plain functions over a session. No HTTP, no HTML. Each that writes commits once, at its end."""
