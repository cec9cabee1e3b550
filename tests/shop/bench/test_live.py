"""What the dial shows for a sound, and what is refused as no sound."""

import math

import numpy as np
import pytest
from pydantic import ValidationError

from acoustics.notes.music import targets
from tests.acoustics.listening import sounds
from webapp.models import Shop
from webapp.shop.base.errors import Refused
from webapp.shop.bench.live import AHEAD, HELD, LONGEST, Bench, Ear, Wishes
from webapp.shop.bench.readings import Goal

RATE = 48000
BLOCK = 512
SHOP = Shop(name="Alder Lane Flutes", currency="EUR")
GOALS = [Goal(t.fingering, t.note, t.frequency, None) for t in targets("A4", "minor pentatonic", 6)]
C5 = 523.2511  # equal temperament, A4 = 440 Hz (ISO 16)


def wishes(**more: object) -> Wishes:
    return Wishes.model_validate(
        {"rate": RATE, "temperature": SHOP.bench_temperature, "humidity": 100 * SHOP.bench_humidity,
         "warmed_up": True} | more
    )  # fmt: skip


def heard(ear: Ear, sound: np.ndarray) -> list[dict[str, object]]:
    whole = (0.3 * sound * 32767).astype("<i2")
    return [ear.hear([whole[i : i + BLOCK].tobytes()], math.inf) for i in range(0, len(whole) - BLOCK, BLOCK)]


def sharp(cents: float, seconds: float = 1.5) -> np.ndarray:
    return sounds.tone(C5 * 2 ** (cents / 1200), seconds)


def test_a_note_is_recognised_and_shown_against_its_target() -> None:
    shown = heard(Ear(Bench(GOALS, 0.0, SHOP), wishes()), sharp(9.0))
    assert shown[0] == {"sounds": False}
    last = shown[len(shown) // 2]
    assert (last["note"], last["fingering"], last["word"], last["steady"]) == ("C5", "xxxxxo", "sharp", True)
    assert last["cents"] == pytest.approx(9.0, abs=0.3)
    assert "take" not in last


def test_an_overblown_note_is_none_of_the_notes_although_one_lies_there() -> None:
    """A4 overblown sounds where the sixth hole's A5 does; its trace of A4 gives it away."""
    shown = heard(Ear(Bench(GOALS, 0.0, SHOP), wishes(hold=True)), sounds.traced(882.0, -20.0, seconds=2.0))
    last = shown[len(shown) // 2]
    assert (last["note"], last["overblown"], last["steady"]) == ("", True, True)
    assert not any("take" in one for one in shown)


def test_the_fingering_at_hand_and_the_air_decide() -> None:
    ear = Ear(Bench(GOALS, 0.0, SHOP), wishes(fingering="xxxxxx"))
    last = heard(ear, sharp(0.0, 0.6))[40]
    assert last["note"] == "A4" and last["cents"] == pytest.approx(300.0, abs=0.5)
    ear.wish(wishes(warmed_up=False))
    last = heard(ear, sharp(0.0, 0.6))[40]
    # 4 degrees colder than played: 1200 log2 sqrt(297.15 / 293.15) = 11.7 cents for dry air, and the moisture's share.
    assert last["note"] == "C5" and last["cents"] == pytest.approx(12.5, abs=1.5)
    assert heard(ear, sounds.tone(1900.0, 0.6))[40] == {"sounds": True, "hz": 1900.0, "steady": True, "note": ""}


def test_before_turning_the_lowest_note_stands_lower() -> None:
    ear = Ear(Bench(GOALS[:1], -8.0, SHOP), wishes())
    assert heard(ear, sounds.tone(440.0 * 2 ** (-8 / 1200), 0.6))[40]["word"] == "in tune"
    assert heard(ear, sounds.tone(440.0, 0.6))[40]["word"] == "sharp"


def test_a_held_note_is_taken_once() -> None:
    ear = Ear(Bench(GOALS, 0.0, SHOP), wishes(hold=True))
    shown = heard(ear, sharp(-20.0, 3.0))
    [take] = [one["take"] for one in shown if "take" in one]
    assert take["fingering"] == "xxxxxo"  # type: ignore[index]
    off = 1200 * math.log2(float(take["pitch"]) / C5)  # type: ignore[index]
    assert off == pytest.approx(-20.0, abs=0.3)
    steady = [one for one in shown if one.get("steady")]
    assert len([one for one in steady if "held" in one]) == pytest.approx(HELD * RATE / BLOCK, abs=2)


@pytest.mark.parametrize(
    "sound",
    [sharp(0.0, 0.7), np.concatenate([sharp(0, 0.6), np.zeros(9600), sharp(0, 0.6)]),
     np.concatenate([sharp(0, 0.7), sharp(200, 0.7)]), sounds.breath(4, seed=3), np.zeros(RATE)],
    ids=["too short", "interrupted", "moved", "breath", "silence"],
)  # fmt: skip
def test_what_does_not_stand_is_not_taken(sound: np.ndarray) -> None:
    assert not any("take" in one for one in heard(Ear(Bench(GOALS, 0.0, SHOP), wishes(hold=True)), sound))


@pytest.mark.parametrize("block", [b"", b"\0", b"\0" * 24002, b"\0" * 5001])
def test_no_block_of_sound(block: bytes) -> None:
    with pytest.raises(Refused, match="not a block of sound"):
        Ear(Bench(GOALS, 0.0, SHOP), wishes()).hear([block], 10.0)


def test_sound_that_comes_too_fast_or_too_long() -> None:
    ear = Ear(Bench(GOALS, 0.0, SHOP), wishes(rate=8000))
    block = bytes(4000)
    for _ in range(int(AHEAD / 0.25)):
        ear.hear([block], 0.0)
    with pytest.raises(Refused, match="faster than a microphone"):
        ear.hear([block], 0.0)
    with pytest.raises(Refused, match="15 minutes"):
        for _ in range(int(LONGEST / 0.25) + 1):
            ear.hear([block], math.inf)


@pytest.mark.parametrize(
    "more",
    [{"rate": 7999}, {"rate": 10**9}, {"rate": "fast"}, {"temperature": "hot"}, {"humidity": math.nan},
     {"humidity": 101}, {"fingering": "abc"}, {"fingering": "x" * 9}],
)  # fmt: skip
def test_wishes_that_can_not_be(more: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        wishes(**more)
