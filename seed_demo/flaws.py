"""What goes wrong in the invented shop, on blanks in work, with pictures; and its bottles of glue."""

import io
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter
from sqlmodel import Session, col, select

from webapp import db
from webapp.decoding.workers import Workers
from webapp.models import (
    Adhesive,
    Blank,
    BlankStatus,
    DefectChoice,
    Species,
    Stage,
    StockItem,
    StockKind,
    at,
)
from webapp.shop.blanks import photos, pictures
from webapp.shop.blanks.photos import AddPhoto
from webapp.shop.glue import adhesives
from webapp.shop.glue.adhesives import AdhesiveAsked, BottleAsked
from webapp.shop.people.accounts import Who
from webapp.shop.production import defects
from webapp.shop.production.defects import Decide, NewCause, RecordDefect

LARGEST = 25_000_000
SIZE = (1200, 800)
INCH = 25.4


def stand_glue_on_the_shelf(session: Session, owner: Who, today: datetime) -> None:
    """The white glue is taken from its lot in stock and was compared with its label; three bottles, one of them old."""
    glue = session.exec(select(StockItem).where(StockItem.kind == StockKind.GLUE).order_by(col(StockItem.id))).first()
    kinds = {one.name.split()[0]: one for one in session.exec(select(Adhesive).order_by(col(Adhesive.id)))}
    white = kinds["white"]
    asked = white.model_dump(exclude={"id"}) | {"item_id": glue.id if glue else None, "as_on_label": True}
    adhesives.change_adhesive(session, owner, white.id or 0, AdhesiveAsked.model_validate(asked))
    for kind, lot, days in [("white", "W-2214", 240), ("liquid", "H-0871", -21), ("slow", "E-5530", 400)]:
        until = (today + timedelta(days=days)).date()
        adhesives.add_bottle(session, owner, kinds[kind].id or 0, BottleAsked(lot=lot, best_before=until))


def go_wrong(session: Session, owner: Who, makers: list[Who], today: datetime) -> None:
    """Three blanks in work with something wrong: one filled, one to watch, one that waits for a decision."""
    maker = makers[-1]
    free = session.exec(
        select(Blank)
        .where(
            Blank.status == BlankStatus.IN_WORK,
            col(Blank.waits_for).is_(None) | (col(Blank.waits_for) == "cure"),
            col(Blank.stage).in_([Stage.GLUING, Stage.FLUE, Stage.VOICING]),
        )
        .order_by(col(Blank.ordered_flute_id).is_not(None), col(Blank.id))
    ).all()
    with at(today - timedelta(days=40)):
        defects.add_cause(session, owner, NewCause(name="chatter marks"))
    stories = [
        (
            "crack",
            8.375 * INCH,
            9.75 * INCH,
            "Opened along the grain beside the window while it lay to settle.",
            True,
            None,
        ),
        ("tear-out", 12 * INCH, 12.25 * INCH, "Small, at the third hole; the fibres still hang on.", False, None),
        (
            "tear-out",
            3.5 * INCH,
            4 * INCH,
            "At the edge of the slow air chamber.",
            False,
            "Filled with dust of the same wood",
        ),
    ]
    for blank, (cause, start, end, what, grave, filled) in zip(free, stories, strict=False):
        assert blank.id is not None
        when = max(blank.opened_at, today - timedelta(hours=20))
        with at(when):
            asked = RecordDefect(cause=cause, start=start, end=end, what=what, grave=grave)
            found = defects.record(session, maker, blank.id, asked)
        with at(min(when + timedelta(minutes=2), today)):
            _picture(session, maker, blank, found.id, cause)
        if filled:
            with at(min(when + timedelta(minutes=30), today)):
                decided = Decide(decided=DefectChoice.FILL, why=filled)
                defects.decide(session, maker, found.id or 0, decided)


def _picture(session: Session, who: Who, blank: Blank, defect_id: int | None, cause: str) -> None:
    """A drawn picture of the spot, kept as one from a phone would be; a shop without a folder beside it has none."""
    path = db.sqlite_path(str(session.get_bind().engine.url))
    if path is None or blank.id is None:
        return
    species = session.get(Species, blank.species_id)
    into = io.BytesIO()
    _drawn(species.colour if species else "#a8643c", cause, blank.id).save(into, "JPEG", quality=90)
    into.seek(0)
    workers = Workers()
    try:
        ready = pictures.prepare(into, LARGEST, workers)
    finally:
        workers.close()
    photos.add_to_blank(
        session,
        who,
        Path(path).parent,
        blank.id,
        ready,
        AddPhoto(defect_id=defect_id, caption=f"The {cause}, from above"),
    )


def _drawn(colour: str, cause: str, seed: int) -> Image.Image:
    """A board's face in its colour, grain along it, and across the middle what went wrong."""
    dice = np.random.default_rng(seed)
    width, height = SIZE
    base = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], float)
    grain = np.cumsum(dice.normal(0, 1, height))
    grain -= np.linspace(grain[0], grain[-1], height)
    wave = 9 * np.sin(np.linspace(0, 5, width))[None, :] + np.arange(height)[:, None]
    lines = grain[np.clip(wave, 0, height - 1).astype(int)]
    light = 1 + 0.012 * lines + dice.normal(0, 0.02, (height, width))
    board = Image.fromarray(np.clip(base * light[..., None], 0, 255).astype("uint8"))
    mark = ImageDraw.Draw(board)
    dark = tuple(int(value * 0.22) for value in base)
    x = np.linspace(0.25 * width, 0.75 * width, 40)
    y = height / 2 + np.cumsum(dice.normal(0, 4, 40))
    for i in range(39):
        thick = 7 * (1 - abs(i - 20) / 22) if cause == "crack" else 26 * dice.random()
        mark.line([(x[i], y[i]), (x[i + 1], y[i + 1])], fill=dark, width=max(1, round(thick)))
    return board.filter(ImageFilter.GaussianBlur(1.1))
