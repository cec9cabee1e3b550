"""Patterns and routings by program.

One router for each noun; they use `frame` and the shop's rules, and know no page.
"""
