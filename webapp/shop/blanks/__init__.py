"""Blanks: where each stands, in whose hands, its history, photos, and the shop's yields.

Used by glue, bench, orders and production. Does not record steps: production does.
"""
