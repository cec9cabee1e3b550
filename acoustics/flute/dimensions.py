"""The sizes of a flute by name, and the flute with each of them a little off."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Instrument

Array = NDArray[np.float64]

_MM: Final = 1e-3


@dataclass(frozen=True, slots=True)
class Dimension:
    """One size: `kind` groups alike ones ("hole diameter"), `hole` is its finger hole from 1, 0 for none.

    Positive is longer, wider, thicker, further from the splitting edge; `unit` is mm, degrees for the edge.
    """

    kind: str
    hole: int = 0
    unit: str = "mm"

    @property
    def name(self) -> str:
        """Such as "foot" or "diameter of hole 3"."""
        return f"{self.kind.removeprefix('hole ')} of hole {self.hole}" if self.hole else self.kind


BODY: Final = (
    Dimension("foot"),
    Dimension("bore"),
    Dimension("wall"),
    Dimension("stub"),
    Dimension("window length"),
    Dimension("window width"),
    Dimension("window wall"),
    Dimension("edge angle", unit="degrees"),
    Dimension("edge height"),
    Dimension("block setback"),
)


def dimensions_of(instrument: Instrument) -> tuple[Dimension, ...]:
    """The sizes that are made each by itself: those of the body, then position and diameter of each finger hole.

    The bore counts as one diameter all along, the wall as one thickness wherever no hole has its own. Where the
    window has no wall of its own it goes with that of the body; an edge of 90 degrees is no ramp and has no angle,
    one that is not raised no height, and where there is no block it has no setback.
    """
    holes = range(1, len(instrument.holes) + 1)
    absent = set()
    if instrument.window.wall is None:
        absent.add("window wall")
    if instrument.window.edge_angle >= 90.0:
        absent.add("edge angle")
    if not instrument.window.edge_height:
        absent.add("edge height")
    if instrument.block is None:
        absent.add("block setback")
    body = [d for d in BODY if d.kind not in absent]
    return (
        *body,
        *(Dimension("hole position", i) for i in holes),
        *(Dimension("hole diameter", i) for i in holes),
    )


def off_by(instrument: Instrument, dimensions: Sequence[Dimension], off: Array) -> Geometry:
    """The flute (g times) with each dimension off by `off` (g, d), in the unit of each.

    The plug stops at the window, and the edge between 5 and 90 degrees, however far off they are. A block that reaches
    over the window has a setback below 0.
    """
    g = Geometry.of([instrument]).repeat(len(off))
    bore_x, bore_r = g.bore_x.copy(), g.bore_r.copy()
    hole_x, hole_r, hole_wall = g.hole_x.copy(), g.hole_r.copy(), g.hole_wall.copy()
    size = {
        "window length": g.window_length.copy(),
        "window width": g.window_width.copy(),
        "window wall": g.window_wall.copy(),
        "wall": g.wall.copy(),
        "edge height": g.edge_height.copy(),
        "block setback": g.setback.copy(),
    }
    edge_angle = g.edge_angle.copy()
    all_holes = instrument.holes + instrument.foot_holes
    follows = np.array([hole.wall is None for hole in all_holes], dtype=bool)
    for dimension, column in zip(dimensions, off.T, strict=True):
        mm = _MM * column
        match dimension.kind:
            case "foot":
                bore_x[:, -1] += mm
            case "stub":
                bore_x[:, 0] -= mm
            case "bore":
                bore_r += 0.5 * mm[:, None]
            case "edge angle":
                edge_angle += column
            case "hole position":
                hole_x[:, dimension.hole - 1] += mm
            case "hole diameter":
                hole_r[:, dimension.hole - 1] += 0.5 * mm
            case kind:
                size[kind] += mm
                if kind == "wall":
                    hole_wall[:, follows] += mm[:, None]
                    if instrument.window.wall is None:
                        size["window wall"] += mm
    bore_x[:, 0] = np.minimum(bore_x[:, 0], -size["window length"])
    return replace(
        g,
        bore_x=bore_x,
        bore_r=bore_r,
        window_length=size["window length"],
        window_width=size["window width"],
        window_wall=size["window wall"],
        wall=size["wall"],
        edge_angle=np.clip(edge_angle, 5.0, 90.0),
        edge_height=np.clip(size["edge height"], 0.0, size["window wall"]),
        setback=np.maximum(size["block setback"], -0.5 * _MM),
        hole_x=hole_x,
        hole_r=hole_r,
        hole_wall=hole_wall,
    )
