"""A flute as geometry: bore, window, holes, and what is refused.

Used by every other package of the engine. Knows no sound.
"""
