"""From sound to pitch: recordings decoded, pitch tracked, steady notes found.

Used by the bench. Knows no flute.
"""
