"""Pages of orders: taking, changing, pricing, promising, following, handing over, repairing.

Thin: parse, call webapp.shop, render.
"""
