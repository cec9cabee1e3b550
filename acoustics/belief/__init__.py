"""What is believed of one flute after what was heard of it: its corrections, unnamed errors and sounding notes.

Used by tuning and learning. Knows no cut and no advice.
"""
