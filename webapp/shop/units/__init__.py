"""What people type and read: lengths, durations, keys and pitches, as values with units.

Used by forms and lists of every noun. Knows no table but through shop.base.
"""
