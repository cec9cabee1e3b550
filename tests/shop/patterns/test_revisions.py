"""What a revision's stored document means, whenever it was saved."""

import pytest

from acoustics.designing.design import DesignRequest, design
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE
from acoustics.model.resonance import predict
from webapp.models import PatternRevision
from webapp.shop.patterns.revisions import instrument_of, stored

BEFORE = {
    "format": "two-chamber-flute/1",
    "bore": [[-8.5, 16.0], [341.0, 16.0]],
    "body": {"outside": "round", "wall": 5.0},
    "window": {"length": 5.5, "width": 9.4, "wall": 3.6, "edge_angle": 30.0},
    "holes": [{"x": 128.0, "diameter": 6.0}, {"x": 227.5, "diameter": 7.5}],
    "foot_holes": [],
}
PREDICTED = {"xx": 448.7461, "oo": 746.1363}
"""Hz, by the engine as it was before it knew flats, for a flute as it is played."""


def revision(document: dict) -> PatternRevision:
    return PatternRevision(pattern_id=1, instrument=document, request={}, notes=[], warnings=[])


def test_a_pattern_from_before_flats_predicts_what_it_did():
    flute = instrument_of(revision(BEFORE))
    assert not flute.window.planed
    found = {n.fingering: n.modes[0].frequency for n in predict(flute, PLAYED_FLUTE, list(PREDICTED))}
    assert found == pytest.approx(PREDICTED, abs=1e-3)


def test_a_flue_wider_than_its_window_was_let_pass_and_still_is():
    assert instrument_of(revision(BEFORE | {"flue": {"depth": 0.8, "width": 10.0, "length": 20.0}})).flue.width == 10.0


def test_a_new_design_is_stored_with_its_flat():
    flute = design(DesignRequest.from_json({"key": "A4"})).instrument
    assert instrument_of(revision(stored(flute))) == flute
    assert flute.window.planed


def test_a_flute_that_was_a_thinner_cylinder_stays_one_when_stored_again():
    old = instrument_of(revision(BEFORE))
    assert instrument_of(revision(stored(old))) == old
    assert Instrument.from_json(BEFORE).window.planed
