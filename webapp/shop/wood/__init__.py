"""Wood: species, boards and their flaws, moisture through the year, sawing into halves.

Used by stock pages, costs and papers. Knows no order.
"""
