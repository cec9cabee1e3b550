"""Pages of the tuning bench: readings, live listening, recordings, the next cut, learning.

Thin: parse, call webapp.shop, render.
"""
