"""The sizes that a step of the built-in routing works to, from the flute's own numbers, in a line for the bench."""

from collections.abc import Callable
from typing import Final

from acoustics.flute.instrument import Instrument
from webapp.models import Units, Workshop
from webapp.shop.routings import making
from webapp.shop.stock.halves import USUAL, needed
from webapp.shop.units.lengths import MM_PER_INCH, show_gauge, show_length
from webapp.shop.units.rough import rough_length

_MARK: Final = {Units.INCH: float(MM_PER_INCH) / 64, Units.MM: 0.1}


def on_a_rule(mm: float, units: Units) -> str:
    """A place or a length as it is marked out: to 1/64 in, or a tenth of a millimetre."""
    step = _MARK[units]
    return show_length(round(mm / step) * step, units).replace("-", "\N{MINUS SIGN}")


def sizes(code: str, flute: Instrument, units: Units, allowed: Workshop = USUAL) -> str:
    """What is marked, milled or cut at the step of this code; empty where it has no sizes, or its gauge says them.

    Places are measured from the splitting edge, those toward the mouth end below 0.
    """
    of = _OF.get(code)
    return of(flute, units, allowed) if of else ""


def _halves(flute: Instrument, units: Units, allowed: Workshop) -> str:
    least = needed(flute, allowed)
    size = " × ".join(rough_length(mm, units) for mm in (least.length, least.width, least.thickness))
    return f"each half at least {size}; finished {on_a_rule(making.overall_length(flute), units)} long"


def _bores(flute: Instrument, units: Units, allowed: Workshop) -> str:
    mill = making.halves(flute)
    cutters = " and ".join(show_gauge(width, units) for width in mill.cutters)
    said = f"round-nose cutter {cutters}, {show_gauge(mill.bore_depth, units)} deep"
    if mill.chamber_depth is not None and abs(mill.chamber_depth - mill.bore_depth) > 0.005:
        said += f", slow air chamber {show_gauge(mill.chamber_depth, units)} deep"
    return said


def _air_holes(flute: Instrument, units: Units, allowed: Workshop) -> str:
    said = f"plug’s face at {on_a_rule(flute.plug_x, units)}"
    if way := making.exit_place(flute):
        said = f"plug from {on_a_rule(way[1], units)} to {on_a_rule(flute.plug_x, units)}; "
        said += f"exit hole from {on_a_rule(way[0], units)} to {on_a_rule(way[1], units)}"
    return f"{said}; window hole at {on_a_rule(-flute.window.length / 2, units)}"


def _mouth(flute: Instrument, units: Units, allowed: Workshop) -> str:
    solid, hole = on_a_rule(making.MOUTH_END, units), on_a_rule(making.BREATH_HOLE, units)
    return f"{solid} of solid wood, breath hole {hole}; {on_a_rule(making.overall_length(flute), units)} to the foot"


def _seat(flute: Instrument, units: Units, allowed: Workshop) -> str:
    start, end = (on_a_rule(x, units) for x in making.seat_place(flute))
    width = making.seat_width(flute)
    wide = f", {show_gauge(width, units)} wide" if width else ""
    return f"{show_gauge(making.planing_depth(flute), units)} deep{wide}, from {start} to {end}"


def _flue_place(flute: Instrument, units: Units, allowed: Workshop) -> str:
    if flute.flue is None:
        return ""
    end = -flute.window.length
    start = end - flute.flue.length
    return f"from {on_a_rule(start, units)} to {on_a_rule(end, units)}, {show_gauge(flute.flue.width, units)} wide"


def _flue(flute: Instrument, units: Units, allowed: Workshop) -> str:
    if flute.flue is None:
        return ""
    return f"{show_gauge(flute.flue.width, units)} wide, {show_gauge(flute.flue.depth, units)} deep as left"


def _window(flute: Instrument, units: Units, allowed: Workshop) -> str:
    start, along = on_a_rule(-flute.window.length, units), show_gauge(flute.window.length, units)
    return f"from {start} to 0: {along} along the bore, {show_gauge(flute.window.width, units)} across"


def _edge(flute: Instrument, units: Units, allowed: Workshop) -> str:
    height, ramp = making.edge_height(flute), making.edge_ramp(flute)
    if not ramp:
        return "square, no ramp"
    return f"tip {show_gauge(height, units)} over the bore, ramp {show_gauge(ramp, units)} long"


def _block(flute: Instrument, units: Units, allowed: Workshop) -> str:
    if flute.block is None:
        start, end = making.block_place(flute)
        return f"at least {on_a_rule(end - start, units)} long, as wide as its seat"
    block = flute.block
    size = " × ".join(on_a_rule(mm, units) for mm in (block.length, block.width, block.height))
    return f"{size} high"


def _block_place(flute: Instrument, units: Units, allowed: Workshop) -> str:
    back = flute.block.setback if flute.block else 0.0
    return f"its end {show_gauge(back, units)} before the window" if back else "its end flush with the window"


_OF: Final[dict[str, Callable[[Instrument, Units, Workshop], str]]] = {
    "halves": _halves,
    "bore": _bores,
    "plug-kerfs": _air_holes,
    "mouth": _mouth,
    "seat": _seat,
    "flue-marked": _flue_place,
    "flue": _flue,
    "window": _window,
    "edge": _edge,
    "block-made": _block,
    "block": _block_place,
}
