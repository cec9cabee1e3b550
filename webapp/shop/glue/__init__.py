"""Glue-up: adhesives with their times, blanks put in clamps, and when they may come out.

Used by the glue-up page, the rack and the API. Knows no order and no tuning.
"""
