"""What to look for when a flute does not speak as it should, the likeliest first.

Common practice, no published source.
"""

from dataclasses import dataclass
from typing import Final

SOURCE: Final = "In order of likelihood; common practice, no published source."


@dataclass(frozen=True, slots=True)
class Trouble:
    """What is heard, and what to try, the likeliest cause first: a test that undoes itself before any cut."""

    heard: str
    tries: tuple[str, ...]


_SEAM: Final = "Lay tape over the block's seam on both sides and behind: if it speaks now, the block leaks on its seat."
_WET: Final = "Draw a wet finger along the joint and the plug: if the note changes, air leaks there."
_SIGHT: Final = "Take the block off and sight along the flue: chips, fuzz or glue in it bend the jet. Clear it."
_EDGE: Final = (
    "Lay a straightedge on the flue's floor and look where it meets the edge: the tip should stand level with the "
    "floor, or a little above, and straight across."
)
_CHAMBER: Final = (
    "Close exit hole and window with tape and blow: a slow air chamber that does not hold leaks at the joint, the "
    "mouth end or the kerfs of the plug."
)

TROUBLES: Final = (
    Trouble(
        "Silent, only air",
        (
            "Shift the block a little back and forth and to the sides: its end should stand at the window's edge.",
            _SEAM,
            _SIGHT,
            _EDGE,
            "Cover every hole and the joint again: one open hole or a kerf past the plug keeps the low notes silent.",
            _CHAMBER,
        ),
    ),
    Trouble(
        "Breathy, weak",
        (
            _SEAM,
            _WET,
            _EDGE,
            "Look at the edge against the light: dull, thick or charred, it hisses. Touch it up with a fine file.",
            "Gauge the flue's depth: deeper than its pattern it lets more air through than the edge can use.",
        ),
    ),
    Trouble(
        "Whistling, a high hiss over the note",
        (
            _SIGHT,
            "Ease the flue's lower lip and the block's end of burrs: one fibre in the jet whistles.",
            _EDGE,
            "Look for a gap under the block's end at the window: tape over it, then flatten the seat.",
        ),
    ),
    Trouble(
        "Jumps to the octave",
        (
            "Blow softer, then gauge the window's length: a cut-up that is too short jumps early. Open it a little.",
            _WET,
            _EDGE,
            "Measure the bore behind the window: a bead of glue there makes the second register win.",
        ),
    ),
    Trouble(
        "Late, starts slowly",
        (
            "Gauge the window's length: a cut-up that is too long starts late and flat. It can't be made shorter: "
            "set the block forward a hair, or make the next one shorter.",
            _SEAM,
            _CHAMBER,
            "Gauge the flue's depth at both ends: one that widens toward the window slows the jet.",
        ),
    ),
)
