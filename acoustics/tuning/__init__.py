"""From what is believed of a flute to what to do next: the cut, the reading, the end of the work.

Used by the bench and by learning. Knows no web, no shop and no recording.
"""
