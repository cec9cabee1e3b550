"""Costs: what a blank really cost, the hours it took, and how a flute's price is built up.

Used by order and blank pages and the API. Reads stock, production and scheduling.
"""
