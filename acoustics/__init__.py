"""The physics of a two-chamber flute: air, ducts, openings, resonances, the jet; design, listening, tuning, learning.

Used by the shop, the drawings and its own command line. Knows no shop and no web.

>>> from acoustics.model.air import Air
>>> from acoustics.flute.instrument import Instrument
>>> from acoustics.model.resonance import predict
>>> flute = Instrument.from_json({
...     "bore": [[-9.0, 15.9], [292.0, 15.9]],
...     "body": {"outside": "round", "wall": 4.8},
...     "window": {"length": 5.5, "width": 9.5, "wall": 3.6, "edge_angle": 30},
... })
>>> note, = predict(flute, Air.moist(), [""])
>>> round(note.modes[0].frequency)  # Hz
516
"""
