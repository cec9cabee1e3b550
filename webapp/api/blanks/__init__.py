"""Blanks by program: steps, readings, cuts, glue-ups, defects, pictures.

One router for each noun; they use `frame` and the shop's rules, and know no page.
"""
