"""Pages of patterns: designing, comparing, tolerance, voicing, files in and out.

Thin: parse, call webapp.shop, render.
"""
