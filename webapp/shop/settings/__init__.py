"""The shop's own settings: units, air, tools, hours and rates, and what a new shop starts with.

Used by every rule that asks how this shop works. Knows no order and no blank.
"""
