"""People of the shop: accounts, roles, signing in, API keys, and the diary of who did what.

Used by every rule, which writes into the diary. Knows nothing of orders or flutes.
"""
