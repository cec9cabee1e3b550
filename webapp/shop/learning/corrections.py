"""What the shop learned from finished flutes: calculated in the background, kept, and again when something changed.

A flute's own evidence is kept by itself, since it takes a tenth of a second; it is made again only where the flute's
readings or cuts, or the shop's played air, have changed. From all of it the corrections by pattern family, and in
common, follow at once.
"""

import hashlib
import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from statistics import fmean
from typing import Any, Final

from sqlmodel import Session, col, func, select

from acoustics.belief.corrections import Prior
from acoustics.belief.heard import Reading as HeardReading
from acoustics.errors import InvalidInput
from acoustics.learning.course import course
from acoustics.learning.estimate import (
    Evidence as FluteSays,
    FinishedFlute,
    Learned,
    Point,
    evidence,
    learn_from,
    points_from,
)
from acoustics.learning.levels import Level
from acoustics.tuning.advise import MAX_READINGS
from webapp import changes
from webapp.db import Database
from webapp.jobs.schedule import claimed
from webapp.models import Blank, Cut, Evidence, Learnt, Reading, Shop, Stage, now
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.bench import as_built, cuts, finished_flutes as learning, readings
from webapp.shop.bench.finished_flutes import Pupil
from webapp.shop.settings import air

log = logging.getLogger("flutebench")

VERSION: Final = 6
"""Goes up when the engine says another thing of the same flutes: then all is calculated again."""
FARTHEST: Final = 60.0
"""Cents that a flute's last readings may stand from its sizes as written down: beyond it a cut is missing, since the
stated wide prior, breath included, gives one flute in a thousand so much (an estimate, no published source)."""
SHOWN: Final = 400
"""Flutes that are shown one by one, the ones finished last."""
COATS: Final = (0.0, 2.0)
"""Cents by which finish moves the notes, and one standard deviation, before any flute has told (an estimate, no
published source); it counts for as much as `COATS_WORTH` flutes."""
COATS_WORTH: Final = 4
CLAIM: Final = "learning"
AT_ONCE: Final = 500  # ids in one question to the database


@dataclass(frozen=True, slots=True)
class Known:
    """What the shop knows before a flute of one pattern is heard: the stated wide prior where no flute has told yet.

    From how many flutes of that pattern, and of all. `coats`: cents by which notes move from tuned to finished, and
    their spread from flute to flute.
    """

    prior: Prior = field(default_factory=Prior)
    of_pattern: int = 0
    of_all: int = 0
    coats: tuple[float, float] = COATS


def stored(session: Session) -> Learnt | None:
    """What was calculated last, where nobody has decided anything about it since; None before the first flute."""
    found = session.get(Learnt, 1)
    return found if found is not None and found.document.get("marks") == learning.marks(session) else None


def known(session: Session, pattern_id: int, planed: bool | None = None) -> Known:
    """What a flute of this pattern begins with; of flutes whose head is told as `planed` says, where that is given.

    What stands around the window is in the model of a flute with its real head, and in the correction of one from
    before flats were known: what either teaches would put the other wrong by some 40 cents. Raises InvalidInput where
    what was learned is beyond belief.
    """
    found = stored(session)
    if found is None or not found.document["flutes"]:
        return Known()
    coats = found.document["coats"]
    learned = found.document if planed is None else found.document.get("heads", {}).get(_head(planed))
    if learned is None:
        return Known(coats=(coats["cents"], coats["sd"]))
    own = learned["families"].get(str(pattern_id))
    return Known(
        Prior.from_json(own or learned["common"]),
        own["flutes"] if own else 0,
        learned["flutes"],
        (coats["cents"], coats["sd"]),
    )


def behind(session: Session) -> bool:
    """Whether there is something to calculate: told by the flute that was finished last and what people decided."""
    newest = _finished_last(session)
    found = session.get(Learnt, 1)
    if found is None:
        return newest is not None
    if (found.document.get("marks"), found.document.get("version")) != (learning.marks(session), VERSION):
        return True
    return newest is not None and found.newest != newest


def _finished_last(session: Session) -> datetime | None:
    """When the last flute of all was finished, counted or not."""
    asked = select(Blank.finished_at).where(col(Blank.finished_at).is_not(None), col(Blank.status).in_(learning.DONE))
    return session.exec(asked.order_by(col(Blank.finished_at).desc(), col(Blank.id).desc()).limit(1)).first()


def calculate(database: Database, _run: int = 0) -> None:
    """Bring everything up to date, as a background job. Where it fails, the bench goes on with what was known."""
    # Where another process is at it already, whoever still sees something behind asks again a little later.
    with claimed(database, CLAIM, timedelta(0)) as claim:
        if claim is not None:
            bring_up(database)


def bring_up(database: Database) -> None:
    """Evidence for every flute that has none, then the corrections from all that count."""
    with database.read() as session:
        shop = find(session, Shop, 1, "shop")
        marks, newest, as_of = learning.marks(session), _finished_last(session), changes.count(session)
        finished = learning.pupils(session)
        told = bases(session, shop, [pupil.blank_id for pupil in finished])
        rows = select(Evidence.blank_id, Evidence.based_on)
        have = dict(session.exec(rows).all())
    for pupil in finished:
        if pupil.counts and have.get(pupil.blank_id) != told[pupil.blank_id]:
            _listen_to(database, pupil, told[pupil.blank_id])
    counted = [pupil for pupil in finished if pupil.counts]
    with database.read() as session:
        documents = _documents(session, counted)
    finished_at = {pupil.serial: pupil.finished_at for pupil in counted}
    said = [FluteSays.from_json(document["says"]) for document in documents]
    moved = [document["moved"] for document in documents if document["moved"] is not None]
    heads = [_head(document.get("planed", False)) for document in documents]
    document = _corrections(said, finished_at)
    document |= {
        "heads": _by_head(said, heads, document),
        "coats": _coats(moved),
        "marks": marks,
        "as_of": as_of,
        "version": VERSION,
    }
    digest = _digest(marks, *(f"{p.blank_id}:{told[p.blank_id]}" for p in counted))
    with database.write() as session:
        row = session.get(Learnt, 1, with_for_update=True) or Learnt(based_on="", document={})
        if row.document.get("as_of", 0) > as_of:
            return  # another process has calculated from more than this one saw
        row.based_on, row.document, row.made_at = digest, document, now()
        row.newest = newest
        session.add(row)
        session.flush()


def bases(session: Session, shop: Shop, blank_ids: Sequence[int]) -> dict[int, str]:
    """What each flute's evidence depends on, as a short text that changes with it."""
    read = _newest(session, Reading, blank_ids)
    cut = _newest(session, Cut, blank_ids)
    medium = f"{VERSION} {air.played(shop).to_json()} {shop.bench_temperature} {shop.bench_humidity}"
    return {blank_id: _digest(medium, str(read.get(blank_id)), str(cut.get(blank_id))) for blank_id in blank_ids}


def _newest(session: Session, table: type[Reading] | type[Cut], blank_ids: Sequence[int]) -> dict[int, str]:
    """How many rows each blank has, and the newest of them: rows are only ever added."""
    found: dict[int, str] = {}
    for some in _parts(blank_ids):
        asked = select(table.blank_id, func.count(), func.max(table.id)).where(col(table.blank_id).in_(some))
        for blank_id, count, newest in session.exec(asked.group_by(col(table.blank_id))):
            found[blank_id] = f"{count} {newest}"
    return found


def _documents(session: Session, counted: Sequence[Pupil]) -> list[dict[str, Any]]:
    """The evidence of these flutes, in their order, of those that have any."""
    found: dict[int, dict[str, Any]] = {}
    for some in _parts([pupil.blank_id for pupil in counted]):
        asked = select(Evidence.blank_id, Evidence.document).where(col(Evidence.blank_id).in_(some))
        found |= {blank_id: dict(document) for blank_id, document in session.exec(asked) if document}
    return [found[pupil.blank_id] for pupil in counted if pupil.blank_id in found]


def _listen_to(database: Database, pupil: Pupil, based_on: str) -> None:
    """Work out what one flute says, in a short transaction of its own."""
    document, fault = None, ""
    try:
        with database.read() as session:
            flute = finished_flute(session, pupil)
            moved = moved_by_finish(session, pupil.blank_id)
        said = evidence(flute, Prior())
        off = _off(said)
        if abs(off) > FARTHEST:
            fault = f"the last readings stand {abs(off):.0f} cents from what the sizes give: is a cut not written down?"
        else:
            planed = flute.instrument.window.planed
            document = {"says": said.to_json(), "moved": moved, "planed": planed}
    except (Invalid, InvalidInput) as error:
        fault = str(error)
    except Exception:
        log.exception("nothing learned from %s", pupil.serial)
        fault = "it could not be calculated; the reason is in the server's log."
    with database.write() as session:
        shop = find(session, Shop, 1, "shop")
        if bases(session, shop, [pupil.blank_id])[pupil.blank_id] != based_on:
            return  # something was read or cut meanwhile: it is calculated again from that
        row = session.get(Evidence, pupil.blank_id) or Evidence(blank_id=pupil.blank_id, based_on="")
        row.based_on, row.document, row.fault, row.made_at = based_on, document, fault[:300], now()
        session.add(row)
        session.flush()


def finished_flute(session: Session, pupil: Pupil) -> FinishedFlute:
    """A finished flute with every reading, each of the flute as it was then. Raises Invalid with what is missing."""
    shop = find(session, Shop, 1, "shop")
    blank = find(session, Blank, pupil.blank_id, "blank")
    made = cuts.of_blank(session, pupil.blank_id)
    if not cuts.counted(made):
        raise Invalid({"": "no cut is written down, so the sizes they were tuned to are not known."})
    built = as_built.of(session, blank)
    first = cuts.at_first(session, blank)
    counted = [r for r in readings.counted(readings.of_blank(session, pupil.blank_id)) if r.stage in cuts.CUTTING]
    heard = [
        HeardReading(
            r.fingering,
            r.frequency,
            cuts.as_cut(built.at(r.at), sizes),
            air.at_the_bench(shop, r.temperature, r.humidity, r.warmed_up),
        )
        for r, sizes in cuts.when_read(first, made, counted)
    ]
    if not heard:
        raise Invalid({"": "no note was read at tuning or finishing."})
    flute = cuts.as_cut(built.now, cuts.after(first, made))
    return FinishedFlute(pupil.serial, str(pupil.pattern_id), flute, air.played(shop), tuple(heard[-MAX_READINGS:]))


def moved_by_finish(session: Session, blank_id: int) -> float | None:
    """Cents by which its notes moved from their last reading at tuning to their first at finishing, in the mean;
    None where fewer than three notes were read on both sides."""
    counted = readings.counted(readings.of_blank(session, blank_id))
    before = {r.fingering: r for r in counted if r.stage is Stage.TUNING}
    after = {r.fingering: r for r in reversed(counted) if r.stage is Stage.FINISHING}
    made = cuts.counted(cuts.of_blank(session, blank_id))
    moves = [
        after[f].cents - r.cents
        for f, r in before.items()
        if f in after and not any(r.at < cut.at <= after[f].at for cut in made)
    ]
    return fmean(moves) if len(moves) > 2 else None


def _coats(moved: Sequence[float]) -> dict[str, float]:
    """Mean and spread of what finish does, drawn towards the stated figures while few flutes have told."""
    n = len(moved)
    cents = (sum(moved) + COATS_WORTH * COATS[0]) / (n + COATS_WORTH)
    squares = sum((m - cents) ** 2 for m in moved)
    return {"cents": cents, "sd": ((squares + COATS_WORTH * COATS[1] ** 2) / (n + COATS_WORTH)) ** 0.5, "flutes": n}


def _off(said: FluteSays) -> float:
    """How far the last readings of its notes stand from the bare model [cents]: the middle one."""
    last = dict(zip(said.fingerings, said.cents.tolist(), strict=True))
    ranked = sorted(last.values())
    return float(ranked[len(ranked) // 2]) if ranked else 0.0


def _corrections(said: Sequence[FluteSays], finished_at: Mapping[str, datetime]) -> dict[str, Any]:
    """What is kept of it: corrections for the next flute, in common and by family; how far every family's last
    readings stood from what was predicted before and after; and how well each flute was foreseen in its time."""
    found = learn_from(said)
    points = _last_of_each(points_from(said))
    oldest_first = sorted(said, key=lambda one: finished_at[one.name])
    return {
        **_begin_with(found, len(said)),
        "levels": {name: _level(level) for name, level in {"": found.common, **found.families}.items()},
        "spread": found.spread.tolist(),
        "note_sd": found.note_sd,
        "errors": {name: _errors(points, name) for name in ("", *found.families)},
        "course": [one.to_json() | {"at": finished_at[one.flute].isoformat()} for one in course(oldest_first)[-SHOWN:]],
    }


def _head(planed: bool) -> str:
    return "real" if planed else "before flats"


def _begin_with(learned: Learned, flutes: int) -> dict[str, Any]:
    """What a flute begins with, of a pattern that has none yet or of a family."""
    families = {name: learned.shop(name) for name in learned.families}
    return {"flutes": flutes, "common": learned.shop(), "families": families}


def _by_head(said: Sequence[FluteSays], heads: Sequence[str], every: Mapping[str, Any]) -> dict[str, Any]:
    """What is begun with, from the flutes of either kind of head alone; `every`, from all, where they are of one."""
    kinds = sorted(set(heads))
    if len(kinds) == 1:
        return {kinds[0]: {name: every[name] for name in ("flutes", "common", "families")}}
    found = {}
    for kind in kinds:
        some = [one for one, head in zip(said, heads, strict=True) if head == kind]
        found[kind] = _begin_with(learn_from(some), len(some))
    return found


def _errors(points: Sequence[Point], family: str) -> dict[str, Any]:
    """Measured less predicted, in cents: the mean and the root of the mean square, before and after."""
    own = [point for point in points if not family or point.family == family]
    return {
        "notes": len(own),
        "before": _off_by([point.measured - point.before for point in own]),
        "after": _off_by([point.measured - point.after for point in own]),
    }


def _off_by(offs: Sequence[float]) -> dict[str, float] | None:
    return {"mean": fmean(offs), "rms": fmean(off * off for off in offs) ** 0.5} if offs else None


def _level(level: Level) -> dict[str, Any]:
    return {"mean": level.mean.tolist(), "covariance": level.covariance.tolist(), "flutes": level.flutes}


def _last_of_each(points: Iterable[Point]) -> list[Point]:
    """The last reading of each note of each flute."""
    last = {(point.flute, point.fingering): point for point in points}
    return list(last.values())


def _parts(ids: Sequence[int]) -> Iterable[Sequence[int]]:
    return (ids[begin : begin + AT_ONCE] for begin in range(0, len(ids), AT_ONCE))


def _digest(*texts: str) -> str:
    return hashlib.sha256("\n".join(texts).encode()).hexdigest()[:40]
