"""What is said of the lowest note at voicing: one case in each line."""

import pytest

from webapp.shop.advice.voicing import Predicted

PATTERN = 336.0
A_MM = 5.1
"""Cents that a millimetre off the foot is worth on a flute of 336 mm: 1200 / ln 2 / 340."""


def predicted(now: float, foot: float, rise: float = -12.0) -> Predicted:
    """A note `now` cents from its target, with `rise` cents to come beside the foot."""
    part = A_MM * (foot - PATTERN)
    return Predicted(None, now, (), part, rise + part, 4.0, foot, PATTERN)


@pytest.mark.parametrize(
    ("now", "foot", "says", "never"),
    [
        # A blank as it should be: 6.8 mm to come off.
        (-25.0, 342.8, "comes off the foot", "leak"),
        (12.0, 336.0, "leave the foot alone", "leak"),
        # The foot was sawn too short already and the note is far too low all the same.
        (-68.0, 334.0, "a leak or a soft breath", "leave the foot alone"),
        # The foot is as planned, the note is 62 cents lower than it should be: not 18 mm off the foot.
        (-62.0, 342.8, "a leak or a soft breath", "comes off the foot"),
        (-50.0, 336.0, "a leak or a soft breath", "leave the foot alone"),
        # A little low with no foot to spare.
        (-2.0, 336.2, "as short as the pattern has it", "leave the foot alone"),
        (30.0, 342.8, "Too high already", "leak"),
    ],
)
def test_the_advice_fits_the_note(now: float, foot: float, says: str, never: str) -> None:
    words = predicted(now, foot).advice(5.0)
    assert says in words
    assert never not in words


def test_nothing_is_said_of_a_note_that_was_not_heard() -> None:
    unheard = Predicted(None, None, (), 30.0, 20.0, 4.0, 342.0, PATTERN)
    assert unheard.advice(5.0).startswith("Read the lowest note")
