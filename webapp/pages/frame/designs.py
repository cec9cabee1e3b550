"""What the pattern screens and the choice of a pattern for an order share: a design shown, from form to pictures."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from markupsafe import Markup

from acoustics.designing.design import DesignedNote
from acoustics.flute.instrument import Instrument
from acoustics.notes.charts import SCALES
from acoustics.notes.music import TEMPERAMENTS
from acoustics.saying import Saying
from webapp.drawings.charts.fingering import ChartNote, fingering_chart
from webapp.drawings.charts.spreads import NoteRange, spread_chart
from webapp.drawings.flute.at_hand import at_hand
from webapp.drawings.flute.dimensioned import dimensioned
from webapp.models import PatternRevision, Units
from webapp.pages.frame.desk import Desk
from webapp.shop.bench.came_out import CameOut
from webapp.shop.patterns.designing import Designed
from webapp.shop.patterns.revisions import instrument_of, notes_of
from webapp.shop.units.keys import SUGGESTED, show_note
from webapp.shop.units.lengths import show_length

LENGTHS = (
    "reach",
    "bore",
    "wall",
    "window_length",
    "window_width",
    "window_wall",
    "edge_height",
    "stub",
    "spacing_least",
    "spacing_most",
    "hands_gap_least",
    "hands_gap_most",
    "to_window",
    "to_foot",
    "smallest_hole",
    "largest_hole",
)
CHOICES = ("third_hole", "outside", "drills", "edge_angle", "second_register_weight")
FIELDS = ("key", "scale", "holes", "a4", "temperament", *CHOICES, *LENGTHS)
PLAIN: tuple[str, ...] = ("key", "scale", "holes", "temperament", "outside")
MOST_RINGS = 20
# How a design begins where nothing else is said.
USUAL = {
    "scale": "minor pentatonic",
    "holes": "6",
    "temperament": "equal",
    "third_hole": "closed",
    "outside": "round",
    "drills": "rack",
}
LABELS = {
    "a4": "A4",
    "reach": "Finger reach",
    "spacing_least": "Fingers at least",
    "spacing_most": "Fingers at most",
    "third_hole": "Third hole",
    "hands_gap_least": "Hands at least",
    "hands_gap_most": "Hands at most",
    "to_window": "Edge to hole 1",
    "to_foot": "Last hole to foot",
    "edge_angle": "Angle of the edge",
    "window_wall": "Wall at the window",
    "edge_height": "Height of the edge",
    "stub": "Plug to window",
    "second_register_weight": "Weight of the octaves",
    "drills": "Finger hole sizes",
    "accept": "Limits that are not met",
}


@dataclass(frozen=True, slots=True)
class Shown:
    """A flute's dimensions as a page shows them: drawing, chart, and the notes in figures."""

    instrument: Instrument
    drawing: Markup
    whole: Markup
    chart: Markup
    notes: tuple[DesignedNote, ...]
    warnings: list[str]
    gave: list[str]
    binding: list[str]
    span: float | None
    worst: float
    any_size_would_do: bool = False


def show_design(desk: Desk, designed: Designed) -> Shown:
    """A fresh design."""
    shown = _shown(
        desk,
        designed.design.instrument,
        designed.design.notes,
        designed.design.warnings,
        designed.gave,
        designed.design.limits,
    )
    return replace(shown, any_size_would_do=designed.any_size_would_do)


def show_saved(desk: Desk, revision: PatternRevision) -> Shown:
    """A design that was saved: what gave stands among its warnings."""
    warnings = [Saying.again(kept) for kept in revision.warnings]
    return _shown(desk, instrument_of(revision), notes_of(revision), warnings, [], [])


def _shown(
    desk: Desk,
    instrument: Instrument,
    notes: Sequence[DesignedNote],
    warnings: Sequence[Saying],
    gave: Sequence[Saying],
    binding: Sequence[Saying],
) -> Shown:
    chart = [ChartNote(note.fingering, show_note(note.note), note.cents) for note in notes]
    own = [abs(note.cents) for note in notes if not note.cross]
    return Shown(
        instrument=instrument,
        drawing=dimensioned(instrument, desk.who.units),
        whole=at_hand(instrument),
        chart=fingering_chart(chart, tolerance=desk.shop.tolerance_cents),
        notes=tuple(notes),
        warnings=spoken(warnings, desk.who.units),
        gave=spoken(gave, desk.who.units),
        binding=spoken(binding, desk.who.units),
        span=span(instrument),
        worst=max(own, default=0.0),
    )


def spoken(sayings: Sequence[Saying], units: Units) -> list[str]:
    """Sentences of the engine in a person's units, with true accidentals."""
    return [show_note(one.text(lambda mm: show_length(mm, units))) for one in sayings]


def outcome_picture(found: CameOut, tolerance: float) -> Markup:
    """The last readings of finished flutes, note by note; rings one by one while they can be told apart."""
    rows = []
    for note in found.notes:
        sd, mean = note.sd or 0.0, note.mean
        rings = note.cents if len(note.cents) <= MOST_RINGS else ()
        low, high = min(note.cents), max(note.cents)
        name = show_note(note.note)
        rows.append(NoteRange(name, mean, low, high, (mean - sd, mean + sd), None, rings, note.predicted))
    return spread_chart(rows, tolerance, "How the flutes came out")


def span(instrument: Instrument) -> float | None:
    """From the first to the last finger hole [mm]: what the hands must reach."""
    return instrument.holes[-1].x - instrument.holes[0].x if instrument.holes else None


def choices() -> dict[str, Any]:
    """What the fields of a design offer."""
    return {"keys": SUGGESTED, "scales": list(SCALES), "temperaments": list(TEMPERAMENTS), "labels": LABELS}


def as_typed(request: dict[str, Any], units: Units) -> dict[str, str]:
    """A saved request as the text fields that ask for it again."""

    def length(value: float | None) -> str:
        return "" if value is None else show_length(value, units, exact=True)

    window, limits = request.get("window", {}), request.get("limits", {})
    typed: dict[str, str] = {name: str(request[name]) for name in PLAIN if name in request}
    typed["a4"] = f"{request.get('a4', 440.0):.10g}"
    typed["drills"] = "any" if "drills" in request and request["drills"] is None else "rack"
    if "third_hole_closed" in request:
        typed["third_hole"] = "closed" if request["third_hole_closed"] else "in turn"
    if "edge_angle" in window:
        typed["edge_angle"] = f"{window['edge_angle']:.10g}"
    if "second_register_weight" in request:
        typed["second_register_weight"] = f"{request['second_register_weight']:.10g}"
    typed |= {"bore": length(request.get("bore_diameter")), "wall": length(request.get("wall"))}
    typed |= {"stub": length(request.get("stub"))}
    typed |= {name: length(limits.get(name)) for name in ("reach", "to_window", "to_foot")}
    typed |= {f"window_{name}": length(window.get(name)) for name in ("length", "width", "wall")}
    typed["edge_height"] = length(window.get("edge_height"))
    for pair, least, most in (
        ("spacing", "spacing_least", "spacing_most"),
        ("diameter", "smallest_hole", "largest_hole"),
        ("hands_gap", "hands_gap_least", "hands_gap_most"),
    ):
        if pair in limits:
            typed |= {least: length(limits[pair][0]), most: length(limits[pair][1])}
    return typed
