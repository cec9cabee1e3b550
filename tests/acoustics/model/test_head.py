"""What a flat, a raised edge, a block, fingers and rims do to a flute: directions and limits that need no elements."""

from dataclasses import replace
from math import log2

import numpy as np
import pytest

from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Block, Body, Finger, Hole, Instrument, Window
from acoustics.model.air import Air
from acoustics.model.resonance import predict, resonances

AIR = Air.from_json({"temperature": 20})
PLAIN = Instrument(
    bore=((-8.5, 16.0), (341.0, 16.0)),
    body=Body("round", 5.0),
    window=Window(5.5, 9.4, None, 30.0),
    holes=tuple(Hole(x, 7.0) for x in (128.0, 147.5, 169.0, 196.5, 227.5, 258.0)),
)
FLAT = replace(PLAIN, window=replace(PLAIN.window, wall=3.6))
BLOCK = Block(12.0, 16.0, 48.0)


def lowest(flute: Instrument, fingering: str = "xxxxxx") -> float:
    return predict(flute, AIR, [fingering], 1)[0].modes[0].frequency


def cents(flute: Instrument, than: Instrument, fingering: str = "xxxxxx") -> float:
    return 1200 * log2(lowest(flute, fingering) / lowest(than, fingering))


def with_edge(height: float, flute: Instrument = FLAT) -> Instrument:
    return replace(flute, window=replace(flute.window, edge_height=height))


def test_each_part_is_worth_what_finite_elements_say():
    """The table of single parts on an A4 flute of 16 mm bore, all holes closed (own finite elements), in cents."""
    raised = with_edge(2.6, replace(PLAIN, window=replace(PLAIN.window, wall=5.0)))
    assert cents(FLAT, PLAIN) == pytest.approx(5.1, abs=1.5)
    assert cents(raised, PLAIN) == pytest.approx(-20.4, abs=1.5)
    assert cents(replace(PLAIN, block=BLOCK), PLAIN) == pytest.approx(-7.5, abs=1.5)
    assert cents(replace(with_edge(2.6), block=BLOCK), PLAIN) == pytest.approx(-26.1, abs=1.5)


def test_higher_edges_and_higher_blocks_flatten():
    heights = [lowest(with_edge(e)) for e in (0.0, 0.5, 1.5, 2.5, 3.5)]
    assert heights == sorted(heights, reverse=True)
    blocks = [lowest(replace(FLAT, block=replace(BLOCK, height=h))) for h in (0.5, 2.0, 6.0, 12.0)]
    assert blocks == sorted(blocks, reverse=True)
    away = [lowest(replace(FLAT, block=replace(BLOCK, setback=s))) for s in (0.0, 0.5, 2.0, 8.0)]
    assert away == sorted(away)


def test_without_a_ramp_the_height_of_the_edge_means_nothing():
    upright = replace(FLAT, window=replace(FLAT.window, edge_angle=90.0))
    assert cents(with_edge(2.0, upright), upright) == pytest.approx(0.0, abs=1e-6)


def test_a_flat_that_is_hardly_planed_is_hardly_there():
    nearly = replace(PLAIN, window=replace(PLAIN.window, wall=4.9999))
    assert cents(nearly, PLAIN) == pytest.approx(0.0, abs=0.05)
    thin = replace(FLAT, window=replace(FLAT.window, planed=False))
    assert cents(thin, FLAT) > 3.0


def test_a_low_block_is_nearly_no_block():
    assert cents(replace(FLAT, block=replace(BLOCK, height=1e-6)), FLAT) == pytest.approx(0.0, abs=1e-3)


def test_fingers_count_where_they_close_and_rims_where_none_does():
    pads = replace(PLAIN, finger=Finger(1.0))
    assert cents(pads, PLAIN) > 1.0
    assert cents(pads, PLAIN, "oooooo") == pytest.approx(0.0, abs=1e-9)
    rims = PLAIN.with_holes([replace(hole, rim=0.5) for hole in PLAIN.holes])
    assert cents(rims, PLAIN) == pytest.approx(0.0, abs=1e-9)
    assert cents(rims, PLAIN, "oooooo") > 2.0


def test_pads_can_be_pressed_deeper_for_many_flutes_at_once():
    """What a correction of the fingers needs: the same as flutes that were described so."""
    level = Geometry.of([PLAIN]).repeat(3)
    found = resonances(level.pressed(1e-3 * np.array([-0.5, 0.4, 1.0])), AIR, ["xxxxxx"], 1).frequency[:, 0, 0]
    described = [lowest(replace(PLAIN, finger=Finger(depth))) for depth in (0.0, 0.4, 1.0)]
    assert found == pytest.approx(described, rel=1e-9)


def test_a_pad_is_at_most_half_a_ball():
    small = PLAIN.with_holes([replace(hole, diameter=3.0) for hole in PLAIN.holes])
    deep, half = (replace(small, finger=Finger(d)) for d in (4.0, 1.5))
    assert cents(deep, half) == pytest.approx(0.0, abs=1e-9)
