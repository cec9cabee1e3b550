"""The jet: what a flute sounds as it is blown, soft to overblown, and the pressures at which it speaks and jumps.

Used by design, voicing and the bench. Knows how a flute resonates; knows no recording, tuning or shop.
"""
