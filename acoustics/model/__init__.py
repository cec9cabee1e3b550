"""The physical model: air, ducts, openings, window, and where a flute resonates and speaks.

Used by designing, tuning and learning. Knows no target.
"""
