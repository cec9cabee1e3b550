"""Pictures and papers of blanks and of lots of stock: added, looked at, taken back."""

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, func, select
from sqlmodel.sql.expression import SelectOfScalar

from webapp.models import Blank, BlankStep, Defect, FileKind, Person, Photo, StockItem, now
from webapp.shop.base.errors import NotFound, Refused
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.blanks import photo_files
from webapp.shop.blanks.pictures import Ready
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who

Id = Annotated[int, Field(ge=1, le=LARGEST_ID)]
MOST_OF_ONE = 200
MOST_SHOWN = 60


class AddPhoto(BaseModel):
    """What a picture or paper shows, and at which step or of which defect it was taken."""

    caption: Annotated[str, StringConstraints(max_length=200)] = ""
    step_id: Id | None = None
    defect_id: Id | None = None


class TakePhotoBack(BaseModel):
    """Why a picture or paper is no longer to be shown."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=300)]


@dataclass(frozen=True, slots=True)
class Shown:
    """One picture or paper as a page shows it."""

    photo: Photo
    by: str
    step: str

    @property
    def says(self) -> str:
        """What stands under it: its caption, or the step it was taken at."""
        return self.photo.caption or self.step or ("Paper" if self.photo.kind is FileKind.PAPER else "Picture")


def add_to_blank(session: Session, who: Who, data: Path, blank_id: int, ready: Ready, asked: AddPhoto) -> Photo:
    """Keep a picture or paper of a blank. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    blank = find(session, Blank, blank_id, "blank", lock=True)
    if asked.step_id and find(session, BlankStep, asked.step_id, "step").blank_id != blank_id:
        raise NotFound(f"Blank {blank.serial} has no such step.")
    if asked.defect_id and find(session, Defect, asked.defect_id, "defect").blank_id != blank_id:
        raise NotFound(f"Blank {blank.serial} has no such defect.")
    made = _made(who, ready, asked.caption)
    made.blank_id, made.step_id, made.defect_id = blank_id, asked.step_id, asked.defect_id
    return _keep(session, who, data, ready, made, "blank", blank_id)


def add_to_lot(session: Session, who: Who, data: Path, item_id: int, ready: Ready, asked: AddPhoto) -> Photo:
    """Keep a picture or paper of a board or another lot of stock. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    find(session, StockItem, item_id, "lot of stock", lock=True)
    made = _made(who, ready, asked.caption)
    made.item_id = item_id
    return _keep(session, who, data, ready, made, "lot", item_id)


def _made(who: Who, ready: Ready, caption: str) -> Photo:
    return Photo(
        kind=ready.kind,
        sha256=hashlib.sha256(ready.content).hexdigest(),
        size=len(ready.content),
        width=ready.width,
        height=ready.height,
        pages=ready.pages,
        file_name="",  # once the file is written
        caption=caption,
        by=who.id,
    )


def _keep(session: Session, who: Who, data: Path, ready: Ready, made: Photo, subject: str, subject_id: int) -> Photo:
    """The file first, then its row; a row that can't be written takes its file with it. Sent twice, it is kept once."""
    there = session.exec(_of(made.blank_id, made.item_id)).all()
    same = (made.sha256, made.step_id, made.defect_id)
    if known := next((one for one in there if (one.sha256, one.step_id, one.defect_id) == same), None):
        session.flush()
        return known
    if len(there) >= MOST_OF_ONE:
        raise Refused(f"There are {MOST_OF_ONE} pictures and papers of it already: take back what nobody needs.")
    made.file_name = photo_files.write(data, ready)
    try:
        session.add(made)
        session.flush()
        what = "Picture" if made.kind is FileKind.PICTURE else "Paper"
        diary.write(session, who, subject, subject_id, f"{what} added{': ' if made.caption else ''}{made.caption}")
        session.flush()
    except BaseException:
        photo_files.remove(data, made.file_name)
        raise
    return made


def _of(blank_id: int | None, item_id: int | None) -> SelectOfScalar[Photo]:
    """The pictures and papers of one blank or lot that were not taken back, the newest first."""
    own = Photo.blank_id == blank_id if blank_id is not None else Photo.item_id == item_id
    return select(Photo).where(own, col(Photo.taken_back_at).is_(None)).order_by(col(Photo.id).desc())


def take_back(session: Session, who: Who, photo_id: int, asked: TakePhotoBack) -> Photo:
    """Show it no longer; that it was there, and why it was taken back, stays. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    photo = find(session, Photo, photo_id, "picture", lock=True)
    if photo.taken_back_at:
        raise Refused("It was taken back already.")
    photo.taken_back_at, photo.taken_back_by, photo.taken_back_why = now(), who.id, asked.why
    session.add(photo)
    what = "Picture" if photo.kind is FileKind.PICTURE else "Paper"
    subject, subject_id = ("blank", photo.blank_id) if photo.blank_id else ("lot", photo.item_id)
    diary.write(
        session, who, subject, subject_id, f"{what} taken back{': ' if photo.caption else ''}{photo.caption}", asked.why
    )
    session.flush()
    return photo


def photo_of(session: Session, photo_id: int) -> Shown:
    """One picture or paper, with who took it. Raises NotFound."""
    photo = find(session, Photo, photo_id, "picture")
    return _shown(session, [photo])[0]


def of_blank(session: Session, blank_id: int | None) -> list[Shown]:
    return _shown(session, list(session.exec(_of(blank_id, None).limit(MOST_SHOWN))))


def of_lot(session: Session, item_id: int | None) -> list[Shown]:
    return _shown(session, list(session.exec(_of(None, item_id).limit(MOST_SHOWN))))


def _shown(session: Session, found: list[Photo]) -> list[Shown]:
    if not found:
        return []
    people = dict(
        session.exec(select(Person.id, Person.name).where(col(Person.id).in_({one.by for one in found}))).all()
    )
    steps = {one.step_id for one in found if one.step_id}
    names = dict(session.exec(select(BlankStep.id, BlankStep.name).where(col(BlankStep.id).in_(steps))).all())
    return [Shown(one, people.get(one.by, ""), names.get(one.step_id, "") if one.step_id else "") for one in found]


def count_for_step(session: Session, step_id: int) -> int:
    """How many pictures were taken at a step of a blank and still stand."""
    statement = select(func.count()).select_from(Photo)
    return session.exec(statement.where(Photo.step_id == step_id, col(Photo.taken_back_at).is_(None))).one()


def sweep(session: Session, data: Path) -> int:
    """Remove files that no row names; gives how many there were."""
    return photo_files.sweep(data, session.exec(select(Photo.file_name)).all())
