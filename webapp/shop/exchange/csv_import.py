"""Imported tables: first a preview of each row's fate, then all of it or nothing.

The preview is the import itself, carried out by the shop's own rules and taken back again: what it says is what will
happen. Between the two the text lies in the database, for a day at most, and only for the person who sent it.
"""

import csv
import hashlib
import io
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Final

from sqlmodel import Session, col, delete

from webapp.models import ImportDraft, now
from webapp.shop.base.errors import FieldsNotAllowed, Invalid, NotFound, Refused, ShopError
from webapp.shop.base.finding import find
from webapp.shop.exchange import taking_back
from webapp.shop.exchange.csv_nouns import NOUNS
from webapp.shop.exchange.csv_reading import Table, decoded, table
from webapp.shop.exchange.csv_rows import Fate, Says
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who

KEPT: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class RowFate:
    """One row: the line it begins on, what becomes of it, or at which column it fails and why."""

    line: int
    fate: Fate | None
    wrong: dict[str, str]
    name: str = ""
    read: dict[str, str] = field(default_factory=dict)  # what was read of it, by column


@dataclass(frozen=True, slots=True)
class Preview:
    """Every row's fate; `mark` is the same as long as the fates are."""

    rows: list[RowFate]
    table: Table

    @property
    def faults_first(self) -> list[RowFate]:
        """The rows as a screen shows them: those that can't be imported on top."""
        return sorted(self.rows, key=lambda row: not row.wrong)

    @property
    def wrong(self) -> int:
        return sum(1 for row in self.rows if row.wrong)

    def count(self, what: str) -> int:
        return sum(1 for row in self.rows if row.fate and row.fate.what == what)

    @property
    def mark(self) -> str:
        said = repr(
            [(row.line, row.fate and (row.fate.what, row.fate.name, row.fate.changes), row.wrong) for row in self.rows]
        )
        return hashlib.sha256(said.encode()).hexdigest()[:32]


def take_in(session: Session, who: Who, noun: str, file_name: str, data: bytes) -> ImportDraft:
    """Keep a file for its preview. Raises NotAllowed, NotFound, Invalid at `file`."""
    who.must_work()
    text = decoded(data)
    _table(noun, text)
    session.exec(delete(ImportDraft).where(col(ImportDraft.at) < now() - KEPT))
    draft = ImportDraft(person_id=who.id, noun=noun, file_name=file_name[:120], content=text)
    session.add(draft)
    session.flush()
    return draft


def draft_of(session: Session, who: Who, draft_id: int, done: bool = False) -> ImportDraft:
    """The file that this person sent and that waits, or with `done` was imported. Raises NotFound."""
    draft = find(session, ImportDraft, draft_id, "file to import")
    if draft.person_id != who.id or (draft.done_at is not None) != done:
        raise NotFound(f"There is no file to import {draft_id}.")
    return draft


def preview(session: Session, who: Who, draft: ImportDraft, says: Says) -> Preview:
    """What would become of each row; nothing of it stays. The session must be one that may write."""
    who.must_work()
    trial = session.begin_nested()
    try:
        return _each(session, who, draft, says)
    finally:
        trial.rollback()


def carry_out(session: Session, who: Who, draft: ImportDraft, mark: str, says: Says) -> Preview:
    """Import all rows, exactly as the preview showed. Raises NotAllowed, Refused (nothing was imported)."""
    who.must_work()
    trial = session.begin_nested()
    done = _each(session, who, draft, says)
    if done.wrong or done.mark != mark:
        trial.rollback()
        if done.wrong:
            raise Refused("Some rows can't be imported, so none was. Put the file right and send it again.")
        raise Refused("The shop has changed since the preview, so nothing was imported. Look at the new preview.")
    trial.commit()
    words = f"Imported {draft.noun}: {done.count('new')} new, {done.count('changed')} changed"
    diary.write(session, who, "shop", 1, words, draft.file_name)
    taking_back.keep(draft, [row.fate.undo for row in done.rows if row.fate and row.fate.undo])
    session.add(draft)
    session.flush()
    return done


def give_up(session: Session, who: Who, draft: ImportDraft) -> None:
    """Forget a file without importing it."""
    who.must_work()
    session.delete(draft)
    session.flush()


def sample(noun: str) -> str:
    """A small table to start from. Raises NotFound."""
    if noun not in NOUNS:
        raise NotFound(f"There is no table of {noun[:40]}.")
    out = io.StringIO()
    csv.writer(out).writerows(NOUNS[noun].example)
    return out.getvalue()


def _each(session: Session, who: Who, draft: ImportDraft, says: Says) -> Preview:
    read = _table(draft.noun, draft.content)
    rows: list[RowFate] = []
    seen: dict[str, int] = {}
    for line in read.lines:
        if note := line.cells.get(""):
            rows.append(RowFate(line.number, None, {"": note}, line.cells.get("name", "")[:80]))
            continue
        key = "\x1f".join(line.cells.get(name, "").casefold() for name in ("kind", "name", "wood"))
        if (before := seen.setdefault(key, line.number)) != line.number:
            rows.append(
                RowFate(line.number, None, {"name": f"Line {before} is about the same: leave one of them out."})
            )
            continue
        rows.append(_one(session, who, draft.noun, line.number, line.cells, says))
    cells = {line.number: line.cells for line in read.lines}
    said = [{name: text for name, text in cells[row.line].items() if name and text} for row in rows]
    return Preview([replace(row, read=one) for row, one in zip(rows, said, strict=True)], read)


def _one(session: Session, who: Who, noun: str, number: int, cells: dict[str, str], says: Says) -> RowFate:
    step = session.begin_nested()
    try:
        fate = NOUNS[noun].bring_in(session, who, cells, says)
        session.flush()
    except (Invalid, FieldsNotAllowed) as error:
        step.rollback()
        return RowFate(number, None, error.errors, cells.get("name", "")[:80])
    except ShopError as error:
        step.rollback()
        return RowFate(number, None, {"": str(error)}, cells.get("name", "")[:80])
    step.commit()
    return RowFate(number, fate, {})


def _table(noun: str, text: str) -> Table:
    if noun not in NOUNS:
        raise NotFound(f"There is no table of {noun[:40]}.")
    return table(text, NOUNS[noun].columns, NOUNS[noun].needed)
