"""From a key to a flute: proportions, limits, fitting, drills, start sizes, tolerance.

Used by the shop's patterns. Knows no reading, no web and no shop.
"""
