"""What every drawing is drawn on: a canvas, widths of texts, note names with accidentals.

Used by all drawings. Knows no flute.
"""
