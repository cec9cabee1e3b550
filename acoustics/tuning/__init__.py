"""From readings to the next cut: what is believed of a flute, and what to do next.

Used by the bench and by learning. Knows no web, no shop and no recording.
"""
