"""How far a flute may stand from its model before anybody has heard it: what is believed before any reading."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from acoustics.belief.corrections import COUNT, SHAPE, Prior
from acoustics.belief.heard import Unknowns, sizes_of
from acoustics.belief.posterior import Width, prior_of
from acoustics.belief.sounding import first_resonances, respond
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.implicit import CENTS, Array

_STATED = Width(1.0, 1.0, 1.0, 1.0)


def model_error(flute: Instrument, air: Air, targets: Mapping[str, float], prior: Prior) -> tuple[Array, Array]:
    """Cents (f,) by which each note is expected to stand above the model, and their covariance (f, f).

    `targets` are Hz by fingering. Of the corrections, of each note by itself and with its neighbours, and of how each
    hole acts; sizes that were cut are taken as they are, and no reading is off.
    """
    names = list(targets)
    near = np.array(list(targets.values()))
    bare = first_resonances(flute, air, names, np.zeros(SHAPE), near)
    shape = prior.mean[:SHAPE]
    corrected = first_resonances(flute, air, names, shape, near)
    rates = respond([flute], air, names, shape, corrected[None]).rates[0]
    unknowns = Unknowns.of(names, [flute], dict(targets))
    rows = np.array([unknowns.row(f, r, sizes_of(flute)) for f, r in zip(names, rates, strict=True)])
    cut = [unknowns.size(size) for size in sizes_of(flute)]
    rows[:, cut] = 0.0
    known = prior_of(prior, unknowns)
    notes = slice(COUNT, COUNT + len(names))
    mean = CENTS * np.log(corrected.real / bare.real) + prior.mean[SHAPE] + known.mean[notes]
    return np.asarray(mean), np.asarray(rows @ known.at(_STATED) @ rows.T)
