"""Listening at the bench as it sounds: each block of sound gives what the screen is to show."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from pydantic import Field, StringConstraints

from acoustics.errors import InvalidInput
from acoustics.listening.notes import Listener, Present
from webapp.models import Shop
from webapp.shop.base.errors import Refused
from webapp.shop.bench.hearing import Recognised, RoomAir, within_reach
from webapp.shop.bench.readings import Goal
from webapp.shop.units import pitches
from webapp.shop.units.keys import show_note

LONGEST = 900.0  # seconds of sound in one go; then one taps again
LARGEST_BLOCK = 0.25  # seconds
AHEAD = 3.0  # seconds that sound may come early: more is no microphone
HELD = 0.8  # seconds that a note must stand steady to be written down
WANDERS = 8.0  # cents: a note that moves further than this while it is held is started again


class Wishes(RoomAir):
    """What the page tells its listener: the microphone's samples a second, the air, the fingering at hand ("" leaves
    it to the listener to recognise the note), and whether to write down the next steady note."""

    rate: Annotated[int, Field(ge=8_000, le=192_000)]
    fingering: Annotated[str, StringConstraints(pattern="^[xo]{0,8}$")] = ""
    hold: bool = False


@dataclass(frozen=True, slots=True)
class Bench:
    """What a listener must know of the blank: its notes, where they should stand [cents], and the shop."""

    goals: Sequence[Goal]
    aim: float
    shop: Shop


class Ear:
    """One microphone at one blank."""

    def __init__(self, bench: Bench, wishes: Wishes) -> None:
        self._bench = bench
        self._rate = wishes.rate
        self._listener = Listener(wishes.rate)
        self._heard = 0
        self._holding = False
        self._pitches: list[float] = []
        self._stood = 0.0
        self._note = ""
        self.wish(wishes)

    def wish(self, wishes: Wishes) -> None:
        """Another fingering, other air, hold or let go. The rate stays what it was."""
        chosen = [goal for goal in self._bench.goals if goal.fingering == wishes.fingering]
        self._goals = chosen or list(self._bench.goals)
        self._correction = wishes.correction(self._bench.shop)
        if wishes.hold and not self._holding:
            self._start_again()
        self._holding = wishes.hold

    def hear(self, blocks: Sequence[bytes], elapsed: float) -> dict[str, Any]:
        """What to show after `blocks` of one channel of 16-bit little-endian samples, `elapsed` seconds from the start.

        Raises Refused where it is no such sound, too much at once, faster than it can have been heard, or too long.
        """
        for block in blocks:
            if not block or len(block) % 2 or len(block) > 2 * LARGEST_BLOCK * self._rate:
                raise Refused("That is not a block of sound.")
        sound = b"".join(blocks)
        self._heard += len(sound) // 2
        seconds = self._heard / self._rate
        if seconds > elapsed + AHEAD:
            raise Refused("Sound comes faster than a microphone can hear it.")
        if seconds > LONGEST:
            raise Refused(f"That was {LONGEST / 60:.0f} minutes. Start the microphone again to go on.")
        try:
            self._listener.feed(np.frombuffer(sound, "<i2").astype(np.float32) / 32768.0)
        except InvalidInput as error:
            raise Refused("That is not a block of sound.") from error
        return self._shown(self._listener.now(), len(sound) / 2 / self._rate)

    def _shown(self, present: Present | None, seconds: float) -> dict[str, Any]:
        if present is None:
            self._start_again()
            return {"sounds": False}
        # What has jumped to a higher register is no reading, whichever note lies there.
        near = [] if present.overblown else within_reach(self._goals, present.frequency, self._correction)
        shown = {"sounds": True, "hz": round(present.frequency, 2), "steady": present.steady}
        if not near:
            self._start_again()
            return shown | {"note": ""} | ({"overblown": True} if present.overblown else {})
        return shown | self._against(near[0]) | self._held(near[0].goal, present, seconds)

    def _against(self, found: Recognised) -> dict[str, Any]:
        judged = pitches.verdict(found.cents, self._bench.shop.tolerance_cents, self._bench.aim)
        return {
            "note": show_note(found.goal.note),
            "fingering": found.goal.fingering,
            "cents": round(found.cents, 1),
            "word": judged.word,
        }

    def _held(self, goal: Goal, present: Present, seconds: float) -> dict[str, Any]:
        """How much of the hold is done (0 to 1), and the reading to write down once it is."""
        if not self._holding:
            return {}
        pitch = 1200.0 * math.log2(present.frequency)
        moved = bool(self._pitches) and abs(pitch - sum(self._pitches) / len(self._pitches)) > WANDERS
        if not present.steady or goal.fingering != self._note or moved:
            self._start_again()
            self._note = goal.fingering
        if not present.steady:
            return {"held": 0.0}
        self._pitches.append(pitch)
        self._stood += seconds
        if self._stood < HELD:
            return {"held": round(self._stood / HELD, 2)}
        mean = 2.0 ** (sum(self._pitches) / len(self._pitches) / 1200.0)
        self._start_again()
        self._holding = False
        return {"held": 1.0, "take": {"fingering": goal.fingering, "pitch": f"{mean:.2f}"}}

    def _start_again(self) -> None:
        self._pitches = []
        self._stood = 0.0
        self._note = ""
