"""Notes, scales, temperaments, and fingering charts.

Used by design and tuning. Knows no flute.
"""
