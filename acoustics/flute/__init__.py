"""A flute as geometry: bore, window, holes, and which sizes are possible.

Used by model, designing, tuning and learning. Knows no sound.
"""
