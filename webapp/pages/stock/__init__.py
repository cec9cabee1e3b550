"""Pages of stock: lots, boards, cutting plans, counts, labels, wood and what it cost.

Thin: parse, call webapp.shop, render.
"""
