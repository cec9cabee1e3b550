"""What the rack and the list of blanks show, and in which order."""

from datetime import date, timedelta

import pytest
from sqlmodel import Session

from tests import blanks as made
from tests.glue_ups import spread
from tests.shops import OpenShop
from webapp.models import Blank, BlankStatus, Stage, now
from webapp.shop.blanks import lists as blank_list, rack
from webapp.shop.blanks.lists import Waiting, Wanted
from webapp.shop.glue import rules as glue_up
from webapp.shop.people.accounts import Who
from webapp.shop.production.opening import GiveUp, give_up

TODAY = date(2031, 5, 1)


def due(session: Session, who: Who, days: list[int | None]) -> list[Blank]:
    """Blanks due so many days from today; None is one for the shelf."""
    blanks = made.opened(session, who, len(days))
    for blank, after in zip(blanks, days, strict=True):
        blank.due_on = None if after is None else TODAY + timedelta(days=after)
        session.add(blank)
    session.commit()
    return blanks


def serials(rows: list[blank_list.Seen]) -> list[str]:
    return [row.blank.serial for row in rows]


def test_the_first_due_lies_first_and_what_has_no_date_last(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        due(session, open_shop.maker, [None, 9, 2, None, 5])
        shelf = rack.rack(session, now(), TODAY).shelves[0]
        assert (shelf.stage, shelf.count) == (Stage.BORING, 5)
        assert serials(shelf.lying) == ["0003", "0005", "0002", "0001", "0004"]
        assert shelf.first_due is not None and shelf.first_due.blank.serial == "0003"
        assert shelf.next is not None and shelf.next.blank.next_name == "Halves chosen and cut"


@pytest.mark.parametrize("per_page", [1, 2, 3, 7])
def test_pages_show_each_blank_once_whatever_their_length(open_shop: OpenShop, per_page: int) -> None:
    with open_shop.database.write() as session:
        due(session, open_shop.maker, [None, 9, 2, None, 5])
        where = blank_list.conditions(Wanted(), TODAY)
        pages = [blank_list.due_first(session, where, per_page, offset) for offset in range(0, 6, per_page)]
        assert [serial for page in pages for serial in serials(page)] == ["0003", "0005", "0002", "0001", "0004"]


def test_each_blank_lies_on_the_shelf_of_its_stage_and_firewood_on_none(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        one, two, gone = due(session, maker, [1, 2, 3])
        made.bring_to(session, maker, one, "glue-up")
        give_up(session, maker, gone.id or 0, GiveUp(why="split"))
        counts = {shelf.stage: shelf.count for shelf in rack.rack(session, now(), TODAY).shelves}
        assert counts == dict.fromkeys(Stage, 0) | {Stage.BORING: 1, Stage.GLUING: 1}
        assert two.stage is Stage.BORING


def test_what_comes_out_next_and_what_awaits_a_hand(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        ready, in_clamps, voicing, tuning, late = due(session, maker, [8, 8, 8, 8, -1])
        for blank, code in [(ready, "glue-up"), (in_clamps, "glue-up"), (voicing, "fundamental"), (tuning, "tuned")]:
            made.bring_to(session, maker, blank, code)
        made_up = spread(session, maker, [in_clamps])
        found = rack.rack(session, now(), TODAY)
        assert found.awaiting == {
            Waiting.GLUE_UP: 1,
            Waiting.CLAMPS: 1,
            Waiting.VOICING: 1,
            Waiting.TUNING: 1,
            Waiting.LATE: 1,
        }
        assert serials(found.coming_out) == []
        glue_up.clamp(session, maker, made_up.id or 0)
        found = rack.rack(session, now(), TODAY)
        assert serials(found.coming_out) == [in_clamps.serial]
        gluing = found.shelves[1]
        assert (gluing.waiting, gluing.next and gluing.next.blank.serial) == (1, ready.serial)
        for waiting, blank in [
            (Waiting.GLUE_UP, ready),
            (Waiting.CLAMPS, in_clamps),
            (Waiting.VOICING, voicing),
            (Waiting.TUNING, tuning),
            (Waiting.LATE, late),
        ]:
            rows, more = blank_list.listed(session, Wanted(waiting=waiting), TODAY, 1)
            assert (serials(rows), more) == ([blank.serial], False)


def test_what_is_over_does_not_come_out_next(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = made.opened(session, maker)[0]
        made.bring_to(session, maker, blank, "glue-up")
        made_up = spread(session, maker, [blank])
        glue_up.clamp(session, maker, made_up.id or 0)
        later = now() + timedelta(hours=2)
        found = rack.rack(session, later, TODAY)
        assert found.coming_out == []
        assert found.shelves[1].next is not None


def test_the_list_is_narrowed_by_stage_status_key_and_wood(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        made.opened(session, maker, 2)
        sharp = made.opened(session, maker, key="A#4")[0]
        gone = made.opened(session, maker)[0]
        give_up(session, maker, gone.id or 0, GiveUp(why="split"))

        def found(**wanted: object) -> list[str]:
            return serials(blank_list.listed(session, Wanted(**wanted), TODAY, 1)[0])  # type: ignore[arg-type]

        assert found(key="Bb4") == [sharp.serial]
        assert found(status=BlankStatus.FIREWOOD) == [gone.serial]
        assert found(status=None) == ["0004", "0003", "0002", "0001"]
        assert found(stage=Stage.TUNING) == []
        assert found(species_id=open_shop.species("sugar maple")) == []
        assert len(found(species_id=open_shop.species())) == 3


def test_the_mark_changes_with_what_is_shown_and_only_then(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = made.opened(session, maker)[0]
        session.commit()
        moment = now()
        marks = [rack.mark(session, moment, TODAY)]
        assert rack.mark(session, moment + timedelta(minutes=5), TODAY) == marks[0]
        made.bring_to(session, maker, blank, "glue-up")
        session.commit()
        marks.append(rack.mark(session, moment, TODAY))
        made_up = spread(session, maker, [blank])
        session.commit()
        marks.append(rack.mark(session, moment, TODAY))
        glue_up.clamp(session, maker, made_up.id or 0)
        session.commit()
        marks.append(rack.mark(session, moment, TODAY))
        # The clamp time is over: nobody did anything, and yet the rack looks different.
        marks.append(rack.mark(session, moment + timedelta(hours=1), TODAY))
        marks.append(rack.mark(session, moment + timedelta(hours=1), TODAY + timedelta(days=1)))
        assert len(set(marks)) == len(marks)
