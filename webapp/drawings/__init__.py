"""Drawings to scale: geometry in, SVG out. Pure functions; nothing here reads a database or a request."""
