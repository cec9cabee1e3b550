"""Pages of the shelf: flutes built for the shop, what they cost, where they lie, which order takes one.

Thin: parse, call webapp.shop, render.
"""
