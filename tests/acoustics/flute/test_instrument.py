"""The geometry of a flute: its JSON, and what is refused."""

import copy

import pytest

from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Block, Finger, Hole, Instrument

DOCUMENT = {
    "format": "two-chamber-flute/1",
    "bore": [[-9.0, 15.9], [292.0, 15.9]],
    "body": {"outside": "round", "wall": 4.8},
    "window": {"length": 5.5, "width": 9.5, "wall": 3.6, "edge_angle": 30},
    "holes": [{"x": 132.0, "diameter": 7.0}, {"x": 156.0, "diameter": 7.5, "wall": 4.5, "undercut": 0.5}],
    "foot_holes": [{"x": 280.0, "diameter": 5.0}],
    "flue": {"depth": 0.8, "width": 6.4, "length": 22.0},
    "chamber": {"length": 150.0, "diameter": 15.9},
}


def test_json_round_trip():
    flute = Instrument.from_json(DOCUMENT)
    assert Instrument.from_json(flute.to_json()) == flute
    assert flute.foot_x == 292.0
    assert flute.plug_x == -9.0
    assert flute.window_wall == 3.6
    assert flute.hole_wall(flute.holes[1]) == 4.5


def test_bore_is_linear_between_points():
    flute = Instrument.from_json({**DOCUMENT, "bore": [[-9.0, 16.0], [91.0, 16.0], [291.0, 14.0]]})
    assert flute.bore_diameter(191.0) == pytest.approx(15.0)
    assert flute.bore_diameter(-50.0) == 16.0
    assert flute.bore_diameter(999.0) == 14.0


def test_with_holes_changes_only_the_holes():
    flute = Instrument.from_json(DOCUMENT)
    assert flute.with_holes([Hole(200.0, 6.0)]).holes == (Hole(200.0, 6.0),)
    assert flute.with_holes(flute.holes) == flute


def changed(path: str, value: object, of: dict = DOCUMENT) -> dict:
    document = copy.deepcopy(of)
    *before, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    inner = document
    for part in before:
        inner = inner[part]
    inner[last] = value
    return document


@pytest.mark.parametrize(
    ("path", "value", "field", "words"),
    [
        ("format", "another/1", "instrument.format", "two-chamber-flute/1"),
        ("colour", "red", "instrument.colour", "unknown field"),
        ("body.outside", "oval", "body.outside", "round, flat"),
        ("body.wall", float("nan"), "body.wall", "finite"),
        ("body.wall", -1.0, "body.wall", "must be"),
        ("body.wall", 10**400, "body.wall", "finite"),
        ("window.wall", 0.01, "window.wall", "0.5 to 25 mm"),
        ("window.width", 16.5, "window.width", "0.60 mm wider than the bore"),
        ("window.length", 10.0, "bore[0][0]", "1.00 mm into the window"),
        ("window.edge_angle", 120, "window.edge_angle", "10 to 90"),
        ("bore", [[-9.0, 15.9]], "bore", "2 to 24"),
        ("bore", [[-9.0, 15.9], [-9.0, 15.9]], "bore[1][0]", "beyond bore[0]"),
        ("bore", [[-9.0, 15.9], [292.0, float("inf")]], "bore[1][1]", "finite"),
        ("bore", [[-9.0, 15.9], [159.0, 15.9]], "bore[1][0]", "the foot cuts 123.50 mm into foot_holes[0]"),
        ("holes.0.x", 153.0, "holes[1].x", "holes[1] overlaps holes[0] by 4.75 mm"),
        ("holes.0.x", 3.0, "holes[0].x", "holes[0] overlaps window by 0.50 mm"),
        ("holes.0.diameter", 17.0, "holes[0].diameter", "1.10 mm wider than the bore"),
        ("holes.1.undercut", 5.0, "holes[1].undercut", "wider than the bore"),
        ("holes.1.wall", 0.0, "holes[1].wall", "0.5 to 25"),
        ("holes.1.x", "far", "holes[1].x", "number"),
        ("foot_holes.0.x", 290.0, "bore[1][0]", "the foot cuts 0.50 mm into foot_holes[0]"),
        ("foot_holes.0.x", 150.0, "foot_holes[0].x", "overlaps holes[1]"),
        ("flue.depth", True, "flue.depth", "number"),
        ("chamber.diameter", 1e9, "chamber.diameter", "mm"),
    ],
)
def test_what_cannot_be_is_refused_by_name(path, value, field, words):
    with pytest.raises(InvalidInput) as refused:
        Instrument.from_json(changed(path, value))
    assert refused.value.field == field
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


AS_MADE = {
    **DOCUMENT,
    "window": {"length": 5.5, "width": 9.5, "wall": 3.6, "edge_angle": 30, "edge_height": 2.8},
    "block": {"height": 12, "width": 16, "length": 45, "setback": 0.5},
    "finger": {"depth": 0.8},
    "holes": [{"x": 132.0, "diameter": 7.0, "rim": 0.5}, {"x": 156.0, "diameter": 7.5}],
}


def test_a_head_as_it_is_made_comes_back_the_same():
    flute = Instrument.from_json(AS_MADE)
    assert Instrument.from_json(flute.to_json()) == flute
    assert flute.window.edge_height == 2.8
    assert flute.block == Block(12.0, 16.0, 45.0, 0.5)
    assert flute.finger == Finger(0.8)
    assert flute.holes[0].rim == 0.5


def test_what_a_document_does_not_name_is_not_there():
    flute = Instrument.from_json(DOCUMENT)
    assert (flute.block, flute.finger, flute.window.edge_height) == (None, None, 0.0)
    assert not {"block", "finger"} & set(flute.to_json())


def test_the_seat_is_the_flat_that_planing_leaves():
    """Geometry: the chord of a circle of 12.75 mm radius, 11.55 mm from its centre."""
    assert Instrument.from_json(DOCUMENT).seat_width == pytest.approx(2 * (12.75**2 - 11.55**2) ** 0.5)
    assert Instrument.from_json(changed("window.wall", 4.8)).seat_width is None
    assert Instrument.from_json(changed("body.outside", "flat")).seat_width == pytest.approx(25.5)


def test_a_stored_document_from_before_flats_stays_a_thinner_cylinder():
    old = Instrument.from_json(DOCUMENT, kept=True)
    assert not old.window.planed
    assert old.seat_width is None
    assert old.to_json()["window"]["planed"] is False
    assert Instrument.from_json(old.to_json()) == old
    assert Instrument.from_json(changed("flue.width", 12.0), kept=True).flue.width == 12.0


@pytest.mark.parametrize(
    ("path", "value", "field", "words"),
    [
        ("window.edge_height", 3.6, "window.edge_height", "0 to just under the wall at the window (3.6 mm)"),
        ("window.edge_height", -0.1, "window.edge_height", "must be 0 to"),
        ("window.edge_height", float("nan"), "window.edge_height", "finite"),
        ("window.planed", "yes", "window.planed", "true or false"),
        ("block.width", 26.0, "block.width", "0.50 mm wider than the body it sits on (25.5 mm)"),
        ("block.height", 0.0, "block.height", "must be"),
        ("block.setback", -1.0, "block.setback", "must be 0 to"),
        ("block", {"height": 12.0}, "block.width", "is required"),
        ("block", {"height": 12, "width": 9, "length": 9, "colour": 1}, "block.colour", "unknown field"),
        ("flue.width", 9.6, "flue.width", "0.10 mm wider than its window (9.5 mm)"),
        ("finger.depth", 4.8, "finger.depth", "0 to just under the wall at holes[0] (4.8 mm)"),
        ("finger.depth", -0.5, "finger.depth", "must be 0 to"),
        ("holes.0.rim", 4.8, "holes[0].rim", "0 to just under the wall there (4.8 mm)"),
    ],
)
def test_an_impossible_head_is_refused(path, value, field, words):
    with pytest.raises(InvalidInput) as caught:
        Instrument.from_json(changed(path, value, AS_MADE))
    assert caught.value.field == field
    assert words in caught.value.limit
