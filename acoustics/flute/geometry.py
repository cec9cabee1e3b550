"""Many flutes at once: the same parts, one row of sizes each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument

Real = NDArray[np.floating[Any]]


@dataclass(frozen=True)
class Geometry:
    """Sizes of ``n`` flutes with ``m`` bore points, ``fingers`` finger holes and ``h`` holes in all [m, degrees].

    Attributes
    ----------
    bore_x, bore_r : (n, m) position and radius of the bore points, x increasing
    window_length, window_width, window_wall, edge_angle : (n,)
    edge_height, block_height, block_width, setback : (n,); a block of no height is none
    planed : (n,) whether a wall at the window that is thinner than the body's is a flat
    finger : (n,) how far the pads of closing fingers bulge into the holes
    wall : (n,) wall of the body
    flat : (n,) whether the outside is flat
    hole_x, hole_r, hole_wall, undercut, rim : (n, h) finger holes, then foot holes, in order of x
    fingers : how many of the holes have a finger

    Nothing is validated here: rows come from ``Instrument.validate`` or from a search that keeps its own bounds.
    Lengths are metres, unlike those of ``Instrument``.
    """

    bore_x: Real
    bore_r: Real
    window_length: Real
    window_width: Real
    window_wall: Real
    edge_angle: Real
    edge_height: Real
    planed: NDArray[np.bool_]
    block_height: Real
    block_width: Real
    setback: Real
    finger: Real
    wall: Real
    flat: NDArray[np.bool_]
    hole_x: Real
    hole_r: Real
    hole_wall: Real
    undercut: Real
    rim: Real
    fingers: int

    @staticmethod
    def of(instruments: Sequence[Instrument]) -> Geometry:
        """Return the geometry of flutes that have equally many bore points, holes and foot holes.

        Raises InvalidInput where they differ.
        """
        first = instruments[0]
        shape = (len(first.bore), len(first.holes), len(first.foot_holes))
        for i, other in enumerate(instruments):
            if (len(other.bore), len(other.holes), len(other.foot_holes)) != shape:
                raise InvalidInput(f"instruments[{i}]", other, "must have as many bore points and holes as the first")
        mm = 1e-3

        def rows(values: list[list[float]]) -> Real:
            return mm * np.asarray(values, dtype=float).reshape(len(instruments), -1)

        def column(values: list[float]) -> Real:
            return mm * np.asarray(values, dtype=float)

        blocks = [flute.block for flute in instruments]
        holes = [flute.holes + flute.foot_holes for flute in instruments]
        return Geometry(
            bore_x=rows([[x for x, _ in flute.bore] for flute in instruments]),
            bore_r=rows([[0.5 * diameter for _, diameter in flute.bore] for flute in instruments]),
            window_length=rows([[flute.window.length] for flute in instruments])[:, 0],
            window_width=rows([[flute.window.width] for flute in instruments])[:, 0],
            window_wall=rows([[flute.window_wall] for flute in instruments])[:, 0],
            edge_angle=np.array([flute.window.edge_angle for flute in instruments]),
            edge_height=column([flute.window.edge_height for flute in instruments]),
            planed=np.array([flute.window.planed for flute in instruments]),
            block_height=column([block.height if block else 0.0 for block in blocks]),
            block_width=column([block.width if block else 0.0 for block in blocks]),
            setback=column([block.setback if block else 0.0 for block in blocks]),
            finger=column([flute.finger.depth if flute.finger else 0.0 for flute in instruments]),
            wall=rows([[flute.body.wall] for flute in instruments])[:, 0],
            flat=np.array([flute.body.outside == "flat" for flute in instruments]),
            hole_x=rows([[hole.x for hole in row] for row in holes]),
            hole_r=rows([[0.5 * hole.diameter for hole in row] for row in holes]),
            hole_wall=rows([[f.hole_wall(hole) for hole in row] for f, row in zip(instruments, holes, strict=True)]),
            undercut=rows([[hole.undercut for hole in row] for row in holes]),
            rim=rows([[hole.rim for hole in row] for row in holes]),
            fingers=len(first.holes),
        )

    def __len__(self) -> int:
        return int(self.bore_x.shape[0])

    def __getitem__(self, rows: slice | NDArray[Any]) -> Geometry:
        """Return some of the flutes."""
        return self._each(lambda values: values[rows])

    def repeat(self, count: int) -> Geometry:
        """Return the same flutes, each ``count`` times in succession."""
        return self._each(lambda values: np.repeat(values, count, axis=0))

    def pressed(self, deeper: Real) -> Geometry:
        """Return the same flutes under fingers whose pads bulge ``deeper`` (n,) [m] into the holes, at least level."""
        return replace(self, finger=np.maximum(self.finger + deeper, 0.0))

    def _each(self, change: Callable[[NDArray[Any]], NDArray[Any]]) -> Geometry:
        arrays: dict[str, Any] = {name: change(getattr(self, name)) for name in _ARRAYS}
        return replace(self, **arrays)

    def radius_at(self, x: Real) -> Real:
        """Return the bore's radius at ``x`` (n, ...), the end values beyond its ends."""
        bore_x, bore_r = self.bore_x, self.bore_r
        extra = (1,) * (x.ndim - 1)
        result = np.broadcast_to(bore_r[:, 0].reshape(-1, *extra), x.shape).copy()
        for i in range(bore_x.shape[1] - 1):
            rise = bore_r[:, i + 1] - bore_r[:, i]
            if not rise.any():
                continue
            start, end = bore_x[:, i].reshape(-1, *extra), bore_x[:, i + 1].reshape(-1, *extra)
            result += rise.reshape(-1, *extra) * (np.clip(x, start, end) - start) / (end - start)
        return result


_ARRAYS = tuple(field.name for field in fields(Geometry) if field.name != "fingers")
