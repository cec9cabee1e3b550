import math
from typing import Any

import numpy as np
import pytest

from acoustics.designing.limits import BRIDGE, bounds, default_limits
from acoustics.designing.request import DesignRequest
from acoustics.errors import InvalidInput
from acoustics.model.air import PLAYED_FLUTE
from acoustics.notes.music import note_name


def test_a_key_is_enough() -> None:
    request = DesignRequest.from_json({"key": "A4"})
    assert request.scale == "minor pentatonic"
    assert request.holes == 6
    assert request.bore_diameter == 19.05
    assert request.air == PLAYED_FLUTE
    assert len(request.targets()) == 7
    assert request.blank(330.0).validate().foot_x == 330.0


def test_what_is_given_is_kept_and_the_rest_follows_it() -> None:
    request = DesignRequest.from_json(
        {
            "key": "F#4",
            "bore_diameter": 20.0,
            "wall": 4.0,
            "window": {"length": 5.0},
            "stub": 4.0,
            "limits": {"reach": 150, "spacing": [20, 33]},
            "drills": [8, 6, 6, 20],
            "outside": "flat",
        }
    )
    flute = request.blank(380.0)
    assert flute.plug_x == -9.0
    assert flute.body.wall == 4.0
    assert flute.window.width == pytest.approx(11.0)
    assert flute.body.outside == "flat"
    assert request.limits.reach == 150
    assert request.limits.spacing == (20, 33)
    assert request.racks == ((6.0, 8.0),)


@pytest.mark.parametrize(
    ("document", "field"),
    [
        ({}, "key"),
        ([], "document"),
        ({"key": "A4", "colour": "red"}, "colour"),
        ({"key": "A4", "limits": {"thumb": 3}}, "limits.thumb"),
        ({"key": "A9"}, "key"),
        ({"key": 440}, "key"),
        ({"key": "A4", "scale": "dorian"}, "scale"),
        ({"key": "A4", "holes": 7}, "holes"),
        ({"key": "A4", "holes": True}, "holes"),
        ({"key": "A4", "holes": 6.0}, "holes"),
        ({"key": "A4", "a4": 300}, "a4"),
        ({"key": "A4", "bore_diameter": math.nan}, "bore_diameter"),
        ({"key": "A4", "bore_diameter": -19}, "bore_diameter"),
        ({"key": "A4", "wall": math.inf}, "wall"),
        ({"key": "A4", "stub": -1}, "stub"),
        ({"key": "A4", "window": {"width": 25}}, "window.width"),
        ({"key": "A4", "window": 5}, "window"),
        ({"key": "A4", "limits": {"spacing": [34, 19]}}, "limits.spacing"),
        ({"key": "A4", "limits": {"spacing": [19]}}, "limits.spacing"),
        ({"key": "A4", "limits": {"reach": "far"}}, "limits.reach"),
        ({"key": "A4", "limits": {"diameter": [5, 19.5]}}, "limits.diameter[1]"),
        ({"key": "A4", "drills": []}, "drills"),
        ({"key": "A4", "drills": [2, 15]}, "drills"),
        ({"key": "A4", "drills": [6, "7"]}, "drills[1]"),
        ({"key": "A4", "second_register_weight": -1}, "second_register_weight"),
        ({"key": "A4", "temperament": "meantone"}, "temperament"),
        ({"key": "A4", "air": {"temperature": 400}}, "air.temperature"),
        ({"key": "A4", "scale": "major", "third_hole_closed": True}, "third_hole_closed"),
        ({"key": "A4", "third_hole_closed": 1}, "third_hole_closed"),
        ({"key": "A4", "outside": "square"}, "outside"),
    ],
)
def test_what_cannot_be_is_refused_by_field(document: Any, field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        DesignRequest.from_json(document)
    assert caught.value.field == field
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("midi", range(55, 92))
def test_every_key_has_defaults_that_agree_with_one_another(midi: int) -> None:
    request = DesignRequest.from_json({"key": note_name(midi)})
    limits = request.limits
    assert limits.diameter[1] < request.bore_diameter
    assert limits.spacing[0] >= limits.diameter[0] + BRIDGE
    assert limits.reach >= 4 * limits.spacing[0] + limits.hands_gap[0]
    assert request.window.width < request.bore_diameter
    assert request.flue.width <= request.window.width
    assert request.blank(600.0).validate()


def test_bounds_say_what_they_bind() -> None:
    limits = default_limits(440.0, 19.05)
    found = bounds(limits, 6)
    layout = np.array([336.0, 122, 141, 162, 190, 220, 249, 7, 8, 8, 9, 9, 12.0])
    broken = [str(b.text()) for b in found if b.row @ layout < b.least]
    assert broken == ["diameter of hole 6: at most 10.5 mm"]
    reach = next(b for b in found if b.what.startswith("reach"))
    assert reach.value(layout) == pytest.approx(127.0)
