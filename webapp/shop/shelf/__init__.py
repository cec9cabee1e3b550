"""The shelf: flutes that were built for the shop, what they cost, where they lie, which order takes one.

Used by pages of orders and of the shelf. Knows nothing of how dates are promised.
"""
