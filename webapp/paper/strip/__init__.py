"""The layout strip at exactly 1:1, tiled where the flute is longer than the paper.

Used by pattern and blank pages.
"""
