"""The shelf by program: its flutes, their prices and places, taken by an order and given back.

One router for each noun; they use `frame` and the shop's rules, and know no page.
"""
