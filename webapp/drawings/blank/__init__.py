"""Blanks and boards as they lie on the rack: wood, halves, how far each is, flaws.

Used by the rack and the stock pages. Geometry in, drawing out.
"""
