"""The same step of several blanks in one entry: all or none, and who is refused is named."""

import pytest
from sqlmodel import Session, col, func, select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, Outcome, StepRecord
from webapp.shop.base.errors import Invalid, NotAllowed, Refused
from webapp.shop.production import together
from webapp.shop.production.opening import GiveUp, give_up
from webapp.shop.production.stages import RecordStep


def entries(session: Session) -> int:
    return session.exec(select(func.count(col(StepRecord.id)))).one()


def next_ids(session: Session, blanks: list[Blank]) -> list[int]:
    return [step.id or 0 for step, _ in together.next_steps(session, blanks)]


def test_three_blanks_pass_a_step_in_one_entry(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blanks = made.opened(session, open_shop.owner, 3)
        ids = next_ids(session, blanks)
        found = together.record(session, open_shop.maker, ids, dict.fromkeys(ids, RecordStep(note="all at once")))
        assert [one.outcome for one in found] == [Outcome.PASSED] * 3
        assert {one.blank_id for one in found} == {blank.id for blank in blanks}
        assert {one.note for one in found} == {"all at once"} and {one.by for one in found} == {open_shop.maker.id}
        assert not set(next_ids(session, blanks)) & set(ids)


def test_each_gauge_is_judged_by_itself(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blanks = made.opened(session, open_shop.owner, 2)
        for blank in blanks:
            made.bring_to(session, open_shop.owner, blank, "bore-gauge")
        good, wide = next_ids(session, blanks)
        asked = {good: RecordStep(value=19.05), wide: RecordStep(value=25.0)}
        found = {one.step_id: one for one in together.record(session, open_shop.owner, [good, wide], asked)}
        assert found[good].outcome is Outcome.PASSED
        assert found[wide].outcome is Outcome.FAILED and "at most" in found[wide].why
        assert len(together.groups(together.next_steps(session, blanks))) == 2


def test_a_missing_size_stands_at_its_own_field(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blanks = made.opened(session, open_shop.owner, 2)
        for blank in blanks:
            made.bring_to(session, open_shop.owner, blank, "bore-gauge")
        one, other = next_ids(session, blanks)
        with pytest.raises(Invalid) as wrong:
            together.record(session, open_shop.owner, [one, other], {one: RecordStep(value=19.05), other: RecordStep()})
        assert list(wrong.value.errors) == [f"value-{other}"]


def test_one_that_is_refused_is_named_and_none_is_recorded(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blanks = made.opened(session, open_shop.owner, 3)
        ids = next_ids(session, blanks)
        give_up(session, open_shop.owner, blanks[2].id or 0, GiveUp(why="checked at the foot"))
        gone = blanks[2].serial
        before = entries(session)
    with (
        pytest.raises(Refused, match=f"Nothing was recorded. {gone} is firewood"),
        open_shop.database.write() as session,
    ):
        together.record(session, open_shop.owner, ids, dict.fromkeys(ids, RecordStep()))
    with open_shop.database.read() as session:
        assert entries(session) == before


def test_a_viewer_records_nothing_and_nothing_chosen_is_said(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        ids = next_ids(session, made.opened(session, open_shop.owner, 1))
        with pytest.raises(NotAllowed):
            together.record(session, open_shop.viewer, ids, dict.fromkeys(ids, RecordStep()))
        with pytest.raises(Invalid):
            together.record(session, open_shop.owner, [], {})
