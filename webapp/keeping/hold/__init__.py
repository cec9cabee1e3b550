"""Who holds a shop: servers and commands beside one another, what replaces it alone.

Used by the command line and by restoring and moving. Knows no table of the shop.
"""
