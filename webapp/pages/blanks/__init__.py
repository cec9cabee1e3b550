"""Pages of blanks: the rack, one blank, opening, glue-up, defects, photos, travelers.

Thin: parse, call webapp.shop, render.
"""
