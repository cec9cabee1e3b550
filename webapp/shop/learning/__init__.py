"""Learning: what finished flutes say of the shop's own corrections, spreads and start sizes.

Used by advice, production and the learning page. Knows no order.
"""
