"""A request for a design, with defaults for everything but the key."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from acoustics import fields
from acoustics.designing.limits import Limits, default_limits
from acoustics.designing.proportions import Proportions, proportions
from acoustics.errors import InvalidInput
from acoustics.flute.document import read_block, read_finger
from acoustics.flute.instrument import Block, Body, Chamber, Finger, Flue, Instrument, Window
from acoustics.model.air import PLAYED_FLUTE, Air
from acoustics.notes.charts import HOLE_COUNTS, SCALES, chart, keeps_third_hole_closed
from acoustics.notes.music import Target, Temperament, check_a4, frequency, parse_key, parse_temperament, targets

HALF_MILLIMETRES: Final = tuple(0.5 * n for n in range(5, 27))
"""The common metric drill set, mm (common practice, no published source)."""
TENTHS: Final = tuple(round(0.1 * n, 1) for n in range(25, 131))
"""For layouts that the common set cannot make: twist drills are made in tenths up to 14 mm (DIN 338, from memory)."""
HUNDREDTHS: Final = tuple(round(0.01 * n, 2) for n in range(250, 1301))
"""For layouts that only just fit: drilled smaller and opened to size, as tuning does in any case."""

SECOND_REGISTER_WEIGHT: Final = 0.2

_FIELDS: Final = (
    "key", "scale", "holes", "third_hole_closed", "a4", "temperament", "air", "bore_diameter", "wall",
    "outside", "window", "stub", "block", "finger", "limits", "drills", "second_register_weight",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class DesignRequest:
    """A key and everything that shapes its flute; lengths in mm, `a4` in Hz.

    `temperament` is "equal", "just" or twelve cents. `racks` are sets of drills to choose from, the next where
    the one before cannot make a layout within the limits; none at all allows any diameter.
    `second_register_weight` sets how much the octaves count against comfortable holes; the first register is
    in tune whatever it is.
    """

    key: str
    scale: str
    holes: int
    third_hole_closed: bool
    a4: float
    temperament: Temperament
    air: Air
    bore_diameter: float
    wall: float
    outside: Literal["round", "flat"]
    window: Window
    stub: float
    limits: Limits
    racks: tuple[tuple[float, ...], ...]
    second_register_weight: float
    flue: Flue
    chamber: Chamber
    block: Block | None = None
    finger: Finger | None = None

    @property
    def root(self) -> float:
        """Frequency of the key in Hz."""
        return frequency(parse_key(self.key), self.a4)

    def targets(self) -> tuple[Target, ...]:
        """The target of each fingering, lowest first."""
        return targets(
            self.key,
            self.scale,
            self.holes,
            self.a4,
            self.temperament,
            third_hole_closed=self.third_hole_closed,
        )

    def blank(self, foot: float) -> Instrument:
        """The flute without finger holes, its foot at `foot` mm."""
        plug = -(self.window.length + self.stub)
        return Instrument(
            bore=((plug, self.bore_diameter), (foot, self.bore_diameter)),
            body=Body(self.outside, self.wall),
            window=self.window,
            flue=self.flue,
            chamber=self.chamber,
            block=self.block,
            finger=self.finger,
        )

    @staticmethod
    def from_json(document: object) -> DesignRequest:
        """Read a design request. Raises InvalidInput for an unknown field or a value that cannot be used."""
        given = fields.mapping(document, "", _FIELDS, required=("key",))
        key = given["key"]
        midi = parse_key(key)
        scale = fields.choice(given.get("scale", "minor pentatonic"), "scale", SCALES)
        holes = _hole_count(given.get("holes", 6))
        third = keeps_third_hole_closed(scale, holes)
        if "third_hole_closed" in given:
            third = fields.boolean(given["third_hole_closed"], "third_hole_closed")
        chart(scale, holes, third_hole_closed=third)
        a4 = check_a4(given.get("a4", 440.0))
        root = frequency(midi, a4)
        bore = _optional(given, "bore_diameter", 6.0, 40.0)
        wall = _optional(given, "wall", 1.5, 15.0)
        outside = fields.choice(given.get("outside", "round"), "outside", ("round", "flat"))
        body: Literal["round", "flat"] = "round" if outside == "round" else "flat"
        asked = _asked_window(given.get("window", {}))
        sizes = [asked.get(name) for name in ("length", "width", "wall")]
        usual = proportions(root, bore, wall, body, *sizes)
        window = _window(asked, usual)
        limits = Limits.from_json(given.get("limits", {}), default_limits(root, usual.bore))
        if limits.diameter[1] > usual.bore:
            raise InvalidInput("limits.diameter[1]", limits.diameter[1], f"the bore is {usual.bore:g} mm")
        return DesignRequest(
            key=key,
            scale=scale,
            holes=holes,
            third_hole_closed=third,
            a4=a4,
            temperament=parse_temperament(given.get("temperament", "equal")),
            air=Air.from_json(given["air"]) if "air" in given else PLAYED_FLUTE,
            bore_diameter=usual.bore,
            wall=usual.wall,
            outside=body,
            window=window,
            stub=fields.number(given.get("stub", usual.stub), "stub", 0.0, 40.0, "mm"),
            limits=limits,
            racks=_racks(given, limits),
            second_register_weight=fields.number(
                given.get("second_register_weight", SECOND_REGISTER_WEIGHT),
                "second_register_weight",
                0.0,
                10.0,
            ),
            flue=Flue(usual.flue_depth, min(usual.flue_width, window.width), usual.flue_length),
            chamber=Chamber(usual.chamber_length, usual.bore),
            block=read_block(given["block"]) if "block" in given else usual.block,
            finger=read_finger(given["finger"]) if "finger" in given else Finger(usual.finger_depth),
        )


def _hole_count(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value not in HOLE_COUNTS:
        raise InvalidInput("holes", value, "must be 5 or 6")
    return value


def _optional(given: Mapping[str, Any], name: str, low: float, high: float) -> float | None:
    return fields.number(given[name], name, low, high, "mm") if name in given else None


_WINDOW: Final = {
    "length": (1.0, 20.0, "mm"),
    "width": (1.5, 40.0, "mm"),
    "wall": (0.5, 15.0, "mm"),
    "edge_angle": (10.0, 90.0, "degrees"),
    "edge_height": (0.0, 15.0, "mm"),
}


def _asked_window(document: object) -> dict[str, float]:
    """The window's sizes that the request names."""
    given = fields.mapping(document, "window", tuple(_WINDOW))
    return {name: fields.number(value, f"window.{name}", *_WINDOW[name]) for name, value in given.items()}


def _window(asked: Mapping[str, float], usual: Proportions) -> Window:
    if usual.window_width > usual.bore:
        raise InvalidInput("window.width", usual.window_width, f"must be 1.5 to {usual.bore:g} mm")
    edge = asked.get("edge_height", usual.edge_height)
    if edge >= usual.window_wall:
        limit = f"must be 0 to just under the wall at the window ({usual.window_wall:g} mm)"
        raise InvalidInput("window.edge_height", edge, limit)
    return Window(
        length=usual.window_length,
        width=usual.window_width,
        wall=usual.window_wall,
        edge_angle=asked.get("edge_angle", usual.edge_angle),
        edge_height=edge,
    )


def _racks(given: Mapping[str, Any], limits: Limits) -> tuple[tuple[float, ...], ...]:
    """The shop's drills that the limits allow, or the common sets; none where any diameter will do."""
    if "drills" not in given:
        common = [_fitting(sizes, limits) for sizes in (HALF_MILLIMETRES, TENTHS, HUNDREDTHS)]
        return tuple(rack for rack in common if rack)
    value = given["drills"]
    if value is None:
        return ()
    rack = fields.sequence(value, "drills", at_most=400, at_least=1)
    sizes = {fields.number(d, f"drills[{i}]", 0.5, 40.0, "mm") for i, d in enumerate(rack)}
    fitting = _fitting(sizes, limits)
    if not fitting:
        low, high = limits.diameter
        raise InvalidInput("drills", sorted(sizes), f"none lies within limits.diameter, {low:g} to {high:g} mm")
    return (fitting,)


def _fitting(sizes: Iterable[float], limits: Limits) -> tuple[float, ...]:
    low, high = limits.diameter
    return tuple(sorted(d for d in sizes if low - 1e-9 <= d <= high + 1e-9))
