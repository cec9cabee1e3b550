"""How accurately a revision must be made: what each dimension does to the notes, how many flutes would be in tune."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from acoustics.designing.tolerance import Sensitivities, Tolerances
from webapp import job_kinds
from webapp.drawings.charts.effects import Effect, effects_chart
from webapp.drawings.charts.spreads import NoteRange, spread_chart
from webapp.jobs import claims
from webapp.jobs.queue import Queue
from webapp.models import Degrees, SpreadRun, Units
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.bench import spreads
from webapp.shop.bench.spreads import TolerancesAsked
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.revisions import notes_of
from webapp.shop.people.accounts import Who
from webapp.shop.units.keys import show_note
from webapp.shop.units.lengths import show_length
from webapp.shop.units.temperatures import show_warmer

router = APIRouter()

PLAIN = ("edge_angle", "temperature")  # in degrees, not lengths
LABELS = {
    "foot": "Foot",
    "bore": "Bore",
    "wall": "Wall",
    "stub": "Plug to window",
    "window_length": "Window length",
    "window_width": "Window width",
    "window_wall": "Wall at the window",
    "edge_angle": "Edge angle",
    "edge_height": "Height of the edge",
    "block_setback": "Block to window",
    "hole_position": "Finger hole, position",
    "hole_diameter": "Finger hole, diameter",
    "temperature": "Temperature of the air",
}


@router.get("/patterns/{pattern_id}/{number}/tolerance")
def show(desk: View, pattern_id: int, number: int) -> Response:
    return _page(desk, pattern_id, number)


@router.post("/patterns/{pattern_id}/{number}/tolerance")
def start(desk: Act, pattern_id: int, number: int) -> Response:
    def rule(form: Form) -> SpreadRun:
        asked = form.read(TolerancesAsked, desk.who.units)
        asked = asked.model_copy(update={"temperature": asked.temperature / _degree(desk)})
        return spreads.start(desk.session, desk.who, pattern_id, number, asked)

    def start_job(run: SpreadRun) -> str:
        assert run.id is not None
        queue: Queue = desk.request.app.state.queue
        desk.commit()  # the process that calculates it must find it
        queue.enqueue(job_kinds.SPREAD, run.id)
        return f"/patterns/{pattern_id}/{number}/tolerance#flutes"

    return desk.submit(rule, again=lambda form, status: _page(desk, pattern_id, number, form, status), to=start_job)


def _page(desk: Desk, pattern_id: int, number: int, form: Form | None = None, status: int = 200) -> Response:
    pattern = patterns.pattern_of(desk.session, pattern_id)
    revision = patterns.revision_of(desk.session, pattern_id, number)
    assert revision.id is not None
    run = spreads.latest(desk.session, revision.id)
    names = {note.fingering: note.note for note in notes_of(revision)}
    context: dict[str, Any] = {
        "pattern": pattern,
        "revision": revision,
        "run": run,
        "under_way": claims.under_way(run),
        "came_out": _came_out(run, names) if run and run.result else None,
        "as_note": show_note,
        "names": names,
    }
    if desk.wants_fragment and desk.request.method == "GET":
        return desk.render("patterns/tolerance.html", "flutes", **context)
    tolerances = spreads.tolerances_of(run)
    found = spreads.rates(desk.session, revision, pattern)
    notes = [names.get(fingering, fingering) for fingering in found.fingerings]
    effects = _effects(found, desk.who)
    return desk.render(
        "patterns/tolerance.html",
        status=status,
        chart=effects_chart(effects, [show_note(name) for name in notes]),
        effects=effects,
        notes=notes,
        care=[(_kind(one.kind), one.share) for one in spreads.care(found, tolerances)],
        form=form or Form(_typed(desk, tolerances)),
        labels=LABELS,
        plain=PLAIN,
        **context,
    )


def _effects(found: Sensitivities, who: Who) -> list[Effect]:
    """The dimensions with the largest effect first, and a degree of the air."""
    effects = [
        Effect(_name(d.name), "1°" if d.unit == "degrees" else '0.004"' if who.units is Units.INCH else "0.1 mm", cents)
        for d, cents in zip(found.dimensions, found.cents, strict=True)
    ]
    degree = show_warmer(1, who.degrees)
    effects.append(Effect(f"Air, {degree}", degree, found.temperature))
    return sorted(effects, key=lambda effect: -abs(effect.largest))


def _name(name: str) -> str:
    words = {"stub": "Plug to window", "edge angle": "Edge angle, 1°", "window wall": "Wall at the window"}
    return words.get(name, name[:1].upper() + name[1:])


def _kind(kind: str) -> str:
    """A kind of dimension in the form's words."""
    return "Temperature of the air" if kind == "air" else LABELS[kind.replace(" ", "_")]


def _came_out(run: SpreadRun, names: dict[str, str]) -> dict[str, object]:
    result = run.result or {}
    ranges = [
        NoteRange(
            show_note(names.get(note["fingering"], note["fingering"])),
            note["mean"],
            note["low"],
            note["high"],
            (note["mean"] - note["sd"], note["mean"] + note["sd"]),
            note["within"],
        )
        for note in result["notes"]
    ]
    return {
        "picture": spread_chart(ranges, run.tolerance_cents),
        "ranges": ranges,
        "all_within": result["all_within"],
        "care": [(_kind(one["dimension"]), one["share"]) for one in result["care"]],
    }


def _degree(desk: Desk) -> float:
    """So many of this person's degrees are one degree C."""
    return 1.8 if desk.who.degrees is Degrees.F else 1.0


def _typed(desk: Desk, tolerances: Tolerances) -> dict[str, str]:
    said = {
        name: f"{value:g}" if name in PLAIN else show_length(value, desk.who.units, exact=True)
        for name, value in tolerances.to_json().items()
    }
    return said | {"temperature": f"{tolerances.temperature * _degree(desk):g}"}
