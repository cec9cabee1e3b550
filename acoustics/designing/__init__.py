"""From a key to a flute: proportions, limits, fitting, drills, start sizes, tolerance.

Used by the shop's patterns. Calls acoustics.model.
"""
