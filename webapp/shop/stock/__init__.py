"""Stock: lots on the shelf, movements, reservations, counts, and halves.

Used by wood, glue, production and costs. Knows no order.
"""
