"""The whole shop by program: settings, search, tables in and out.

One router for each noun; they use `frame` and the shop's rules, and know no page.
"""
