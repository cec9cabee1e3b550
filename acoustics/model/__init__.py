"""The physical model: air, ducts, openings, window, and where a flute resonates and speaks.

Used by design and tuning. Knows no target.
"""
