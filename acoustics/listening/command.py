"""The command `listen`: a recording to its steady notes and, where asked, its swells."""

from __future__ import annotations

import sys
import tempfile
from dataclasses import asdict
from pathlib import Path
from typing import Any, BinaryIO

from acoustics.errors import InvalidInput
from acoustics.listening.gauge import Gauge
from acoustics.listening.notes import expected_range, listen
from acoustics.listening.recording import LIMITS, decoded
from acoustics.listening.steadiness import SteadyNote
from acoustics.listening.strongest import followed
from acoustics.listening.swells import Swells, swells

_USE = "needs one FILE; --expect NOTE if only one is expected; --swell, and with it --pressures CSV of seconds,Pa"


def command(arguments: list[str]) -> dict[str, Any]:
    """`listen FILE [--expect A4] [--swell [--pressures CSV]]`: what the command line prints; "-" is standard input.

    Beside the contract's fields a swell's document has `remarks`, sentences on what was asked for and is not there.
    Raises InvalidInput.
    """
    options = list(arguments)
    expect = _taken(options, "--expect", "a note such as A4")
    pressures = _taken(options, "--pressures", "a CSV file of seconds,Pa")
    swell = "--swell" in options
    if swell:
        options.remove("--swell")
    if len(options) != 1 or (pressures is not None and not swell):
        raise InvalidInput("listen", " ".join(arguments), _USE)
    if options[0] != "-":
        return _found(Path(options[0]), expect, swell, pressures)
    with tempfile.TemporaryFile() as file:
        file.write(sys.stdin.buffer.read(LIMITS.bytes + 1))
        file.flush()
        return _found(file, expect, swell, pressures)


def _taken(options: list[str], name: str, what: str) -> str | None:
    """The value after an option, both taken out of the options."""
    if name not in options:
        return None
    at = options.index(name)
    if at + 1 >= len(options):
        raise InvalidInput(name, None, f"must be followed by {what}")
    value = options[at + 1]
    del options[at : at + 2]
    return value


def _found(source: Path | BinaryIO, expect: str | None, swell: bool, pressures: str | None) -> dict[str, Any]:
    found = {"notes": [_note(note) for note in listen(source, expect)]}
    if not swell:
        return found
    heard = hear_swells(source, pressures)
    low, high = expected_range(expect) if expect is not None else (0.0, float("inf"))
    return found | {
        "swells": [asdict(one) for one in heard.found if low <= one.before_jump.frequency <= high],
        "remarks": list(heard.remarks),
    }


def hear_swells(source: Path | BinaryIO, pressures: str | None = None) -> Swells:
    """The swells of a recording, with a gauge's log beside it where there is one. Raises InvalidInput."""
    if not isinstance(source, Path):
        source.seek(0)
    with decoded(source, LIMITS) as sound:
        heard = followed(sound.blocks(), sound.rate)
    seconds = float(heard.times[-1]) if len(heard.times) else 0.0
    return swells(heard, None if pressures is None else Gauge.from_csv(Path(pressures), seconds))


def _note(note: SteadyNote) -> dict[str, Any]:
    """`overblown` stands only where it is true."""
    return {key: value for key, value in asdict(note).items() if key != "overblown" or value}
