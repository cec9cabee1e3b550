"""Cutting plans: which halves are wanted, from which boards they are sawn, what to buy.

Used by the stock pages and costs. Knows no order; demand counts flutes that need wood.
"""
