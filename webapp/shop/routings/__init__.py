"""Routings: which steps a blank goes through, with gauges, limits, waits and cautions.

Used by blanks, production and the traveler. Knows no single blank.
"""
