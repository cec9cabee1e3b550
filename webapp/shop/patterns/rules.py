"""Patterns: designed, saved in numbered revisions that are never edited, proven by flutes that came out well."""

from sqlalchemy import func, or_
from sqlmodel import Session, col, select

from acoustics.notes.music import Target, targets
from webapp.models import Pattern, PatternRevision, Shop, now
from webapp.shop.base.errors import Invalid, NotFound, Refused
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.patterns.designing import Designed, design_for
from webapp.shop.patterns.forms import DesignAsked, NoLongerProven, SavePattern, SaveRevision
from webapp.shop.patterns.revisions import instrument_of, notes_of, stored
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.units.keys import spellings
from webapp.shop.units.lengths import show_length
from webapp.shop.units.sounding import Sounding

__all__ = [
    "design_for",
    "free_name",
    "instrument_of",
    "mark_proven",
    "no_longer_proven",
    "pattern_of",
    "proven_for",
    "revision_of",
    "save_imported",
    "save_imported_revision",
    "save_pattern",
    "save_revision",
    "suggest_name",
    "targets_of",
]


def targets_of(pattern: Pattern) -> tuple[Target, ...]:
    """The target of each fingering in the pattern's chart, lowest first."""
    return targets(pattern.key, pattern.scale, pattern.holes, pattern.a4, pattern.temperament)


def opens_in_turn(session: Session, pattern: Pattern) -> bool:
    """Whether the pattern was designed to open its third hole in turn, where that usually stays closed."""
    first = (
        select(PatternRevision).where(PatternRevision.pattern_id == pattern.id).order_by(col(PatternRevision.number))
    )
    revision = session.exec(first.limit(1)).first()
    return revision is not None and revision.request.get("third_hole_closed") is False


def pattern_of(session: Session, pattern_id: int) -> Pattern:
    """Raises NotFound."""
    return find(session, Pattern, pattern_id, "pattern")


def revision_of(session: Session, pattern_id: int, number: int) -> PatternRevision:
    """A revision by its number within its pattern. Raises NotFound."""
    revision = None
    if 0 < number <= LARGEST_ID and 0 < pattern_id <= LARGEST_ID:
        statement = select(PatternRevision).where(PatternRevision.pattern_id == pattern_id)
        revision = session.exec(statement.where(PatternRevision.number == number)).first()
    if revision is None:
        raise NotFound(f"This pattern has no revision {number}.")
    return revision


def proven_for(
    session: Session, key: str, scale: str, holes: int, a4: float, temperament: str = "equal"
) -> list[tuple[Pattern, PatternRevision]]:
    """Revisions proven for exactly this key, scale, pitch and temperament, the latest first."""
    return fitting(session, key, scale, holes, a4, temperament, proven=True)


def fitting(
    session: Session, key: str, scale: str, holes: int, a4: float, temperament: str = "equal", proven: bool = False
) -> list[tuple[Pattern, PatternRevision]]:
    """The newest revision of each matching pattern, or with `proven` all proven ones; proven ones first."""
    statement = (
        select(Pattern, PatternRevision)
        .join(PatternRevision, col(PatternRevision.pattern_id) == Pattern.id)
        .where(
            col(Pattern.key).in_(spellings(key)),
            Pattern.scale == scale,
            Pattern.holes == holes,
            col(Pattern.a4).between(a4 - 0.05, a4 + 0.05),
            Pattern.temperament == temperament,
        )
        .order_by(
            col(PatternRevision.proven_at).is_(None),
            col(PatternRevision.proven_at).desc(),
            col(PatternRevision.id).desc(),
        )
        .limit(50)
    )
    if proven:
        statement = statement.where(col(PatternRevision.proven_at).is_not(None))
        return [(pattern, revision) for pattern, revision in session.exec(statement)]
    newest = select(func.max(PatternRevision.number)).where(PatternRevision.pattern_id == Pattern.id)
    latest = col(PatternRevision.number) == newest.correlate(Pattern).scalar_subquery()
    statement = statement.where(or_(latest, col(PatternRevision.proven_at).is_not(None)))
    return [(pattern, revision) for pattern, revision in session.exec(statement)]


def save_pattern(session: Session, who: Who, asked: DesignAsked, keep: SavePattern) -> PatternRevision:
    """Design, and save the result as the first revision of a new pattern. Raises NotAllowed, Invalid."""
    who.must_work()
    designed = _acceptable(session, asked, keep.accept)
    pattern = _new_pattern(session, asked, keep.name)
    revision = _add_revision(session, who, pattern, 1, designed, keep.note)
    diary.write(session, who, "pattern", pattern.id, f"Designed as {pattern.name}", keep.note)
    session.flush()
    return revision


def save_imported(
    session: Session, who: Who, sounding: Sounding, name: str, note: str, designed: Designed
) -> PatternRevision:
    """Save a flute that was designed elsewhere as the first revision of a new pattern. Raises NotAllowed, Invalid."""
    who.must_work()
    pattern = _new_pattern(session, sounding, name)
    revision = _add_revision(session, who, pattern, 1, designed, note)
    diary.write(session, who, "pattern", pattern.id, f"Imported as {pattern.name}", note)
    session.flush()
    return revision


def save_imported_revision(
    session: Session, who: Who, pattern_id: int, designed: Designed, note: str
) -> PatternRevision:
    """Save a flute that was designed elsewhere as a new revision. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    pattern = find(session, Pattern, pattern_id, "pattern", lock=True)
    revision = _further(session, who, pattern, designed, note)
    diary.write(session, who, "pattern", pattern_id, f"Revision {revision.number} imported", note)
    session.flush()
    return revision


def save_revision(
    session: Session, who: Who, pattern_id: int, asked: DesignAsked, keep: SaveRevision
) -> PatternRevision:
    """Design, and save the result as a new revision of a pattern for the same key, scale, pitch and temperament.

    Raises NotAllowed, NotFound, Refused, Invalid.
    """
    who.must_work()
    pattern = find(session, Pattern, pattern_id, "pattern", lock=True)
    same = asked.key in spellings(pattern.key) and all(
        getattr(asked, name) == getattr(pattern, name) for name in ("scale", "holes", "a4", "temperament")
    )
    if not same:
        raise Refused(
            "A revision keeps its pattern's key, scale, holes, A4 and temperament: save a new pattern instead."
        )
    designed = _acceptable(session, asked, keep.accept)
    revision = _further(session, who, pattern, designed, keep.note)
    diary.write(session, who, "pattern", pattern_id, f"Revision {revision.number} added", keep.note)
    session.flush()
    return revision


def _further(session: Session, who: Who, pattern: Pattern, designed: Designed, note: str) -> PatternRevision:
    """Add a revision after the last one. Raises Refused where its fingerings differ."""
    newest = select(PatternRevision).where(PatternRevision.pattern_id == pattern.id)
    last = session.exec(newest.order_by(col(PatternRevision.number).desc()).limit(1)).first()
    chart = {one.fingering for one in designed.design.notes}
    if last is not None and {one.fingering for one in notes_of(last)} != chart:
        raise Refused("A revision keeps its pattern's fingerings: save a new pattern instead.")
    return _add_revision(session, who, pattern, last.number + 1 if last else 1, designed, note)


def mark_proven(session: Session, who: Who, pattern_id: int, number: int) -> PatternRevision:
    """Mark a revision as proven by flutes that came out well. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    pattern_of(session, pattern_id)
    revision = revision_of(session, pattern_id, number)
    if revision.proven_at:
        raise Refused("This revision is already proven.")
    revision.proven_at, revision.proven_by = now(), who.id
    session.add(revision)
    diary.write(session, who, "pattern", pattern_id, f"Revision {number} marked as proven by {who.name}")
    session.flush()
    return revision


def no_longer_proven(
    session: Session, who: Who, pattern_id: int, number: int, asked: NoLongerProven
) -> PatternRevision:
    """Mark a revision as no longer proven, with the reason. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    revision = revision_of(session, pattern_id, number)
    if not revision.proven_at:
        raise Refused("This revision is not proven.")
    revision.proven_at = revision.proven_by = None
    session.add(revision)
    diary.write(session, who, "pattern", pattern_id, f"Revision {number} is no longer proven", asked.why)
    session.flush()
    return revision


def suggest_name(session: Session, asked: DesignAsked, designed: Designed) -> str:
    """A name not yet taken that says what a maker looks for: A4 minor pentatonic, 6 holes, bore 3/4\"."""
    shop = find(session, Shop, 1, "shop")
    bore = show_length(designed.design.instrument.bore[0][1], shop.units)
    return free_name(session, f"{asked.key} {asked.scale}, {asked.holes} holes, bore {bore}")


def free_name(session: Session, wanted: str) -> str:
    """The name, or with a number behind it where it is taken."""
    plain = wanted[:70]
    taken = set(session.exec(select(Pattern.name).where(col(Pattern.name).startswith(plain, autoescape=True))))
    return next(name for n in range(1, len(taken) + 2) if (name := plain if n == 1 else f"{plain} ({n})") not in taken)


def _new_pattern(session: Session, sounding: Sounding, name: str) -> Pattern:
    if session.exec(select(Pattern.id).where(Pattern.name == name)).first():
        raise Invalid({"name": "There is a pattern of that name already."})
    pattern = Pattern(name=name, **sounding.model_dump(include={"key", "scale", "holes", "a4", "temperament"}))
    session.add(pattern)
    session.flush()
    return pattern


def _acceptable(session: Session, asked: DesignAsked, accepted: bool) -> Designed:
    designed = design_for(session, asked)
    if designed.gave and not accepted:
        raise Invalid({"accept": "Not all limits can be met: accept the ones that are not, or change them."})
    return designed


def _add_revision(
    session: Session, who: Who, pattern: Pattern, number: int, designed: Designed, note: str
) -> PatternRevision:
    assert pattern.id is not None
    revision = PatternRevision(
        pattern_id=pattern.id,
        number=number,
        instrument=stored(designed.design.instrument),
        request=designed.request,
        notes=[note.to_json() for note in designed.design.notes],
        warnings=[warning.kept() for warning in designed.warnings],
        note=note,
        made_by=who.id,
    )
    session.add(revision)
    session.flush()
    return revision
