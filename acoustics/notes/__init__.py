"""Notes, scales, temperaments, and fingering charts.

Used by designing and tuning. Knows no flute.
"""
