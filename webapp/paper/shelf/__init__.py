"""Papers for the shelf and the saw: labels, count sheet, purchase list, cutting plan.

Used by stock pages.
"""
