"""Parcels: to whom an order is sent, by which carrier, what lies in it and what its woods ask for at a border.

Used by pages and papers. Knows nothing of how flutes are built.
"""
