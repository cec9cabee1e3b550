"""What stands on a traveler, read from rows; on both databases."""

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlmodel import Session, col, select

from tests.paper.blanks import MORNING, NOTES, SIX_HOLES, Wanted, put_on_the_bench
from tests.shops import OpenShop
from webapp.models import Blank, BlankStep, Order, Outcome, Reading, Stage, StepKind, StepRecord, StepState, Units
from webapp.paper.traveler.content import MOST_EXTRAS, traveler, travelers_of_order
from webapp.paper.traveler.parts import StepLine, Traveler
from webapp.shop.base.errors import NotFound
from webapp.shop.routings.cautions import FIRST

pytest_plugins = ["tests.shops"]

URL = "http://shop.example:8000"


def read(shop: OpenShop, wanted: Wanted | None = None, units: Units = Units.MM) -> Traveler:
    wanted = wanted or Wanted()
    with shop.database.write() as session:
        put_on_the_bench(session, wanted)
    return again(shop, wanted.serial, units)


def again(shop: OpenShop, serial: str = "AL-0042", units: Units = Units.MM) -> Traveler:
    with shop.database.read() as session:
        return traveler(session, serial, units, URL)


def lines(t: Traveler) -> dict[str, StepLine]:
    return {line.name: line for block in t.stages for line in block.steps}


def step_named(session: Session, name: str) -> BlankStep:
    return session.exec(select(BlankStep).where(BlankStep.name == name)).one()


def add_record(shop: OpenShop, name: str, outcome: Outcome, **more: object) -> int:
    with shop.database.write() as session:
        step = step_named(session, name)
        record = StepRecord(
            step_id=step.id or 0, blank_id=step.blank_id, outcome=outcome, by=shop.maker.id, at=MORNING, **more
        )
        session.add(record)
        session.commit()
        return record.id or 0


def test_the_head_says_whose_it_is_and_what_it_is(open_shop: OpenShop) -> None:
    t = read(open_shop, Wanted(extras="heron block"))
    assert (t.serial, t.key, t.scale, t.holes) == ("AL-0042", "A4", "minor pentatonic", 6)
    assert (t.order, t.customer, t.due, t.extras) == ("7", "Maren Oduya", "18 Apr 2026", "heron block")
    assert (t.pattern, t.revision, t.pitch) == ("A4 minor pentatonic, 3/4 in bore", "3", "A4 = 440 Hz")
    assert t.address == "http://shop.example:8000/blanks/AL-0042"
    assert t.wood == "western redcedar"
    assert "asthma" in " ".join(t.wood_cautions)


def test_restricted_and_sensitising_woods_say_so(open_shop: OpenShop) -> None:
    cautions = " ".join(read(open_shop, Wanted(wood="rosewood (Dalbergia)")).wood_cautions)
    assert "Restricted species" in cautions
    assert "CITES" in cautions
    assert read_other(open_shop, "sugar maple").wood_cautions == ()


def read_other(shop: OpenShop, wood: str) -> Traveler:
    with shop.database.write() as session:
        blank = session.exec(select(Blank)).one()
        blank.species_id = shop.species(wood)
        session.commit()
    return again(shop)


def test_a_blank_for_stock_has_no_customer(open_shop: OpenShop) -> None:
    read(open_shop)
    with open_shop.database.write() as session:
        blank = session.exec(select(Blank)).one()
        blank.ordered_flute_id, blank.due_on = None, None
        session.commit()
    t = again(open_shop)
    assert (t.order, t.customer, t.due) == ("", "", "")


def test_all_six_stages_with_all_their_steps_in_order(open_shop: OpenShop) -> None:
    t = read(open_shop)
    assert [block.name for block in t.stages] == [stage.value for stage in Stage]
    assert [block.number for block in t.stages] == [1, 2, 3, 4, 5, 6]
    with open_shop.database.read() as session:
        names = session.exec(select(BlankStep.name).order_by(col(BlankStep.position))).all()
    assert [line.name for block in t.stages for line in block.steps] == names


def test_gauges_carry_size_and_limits_in_the_persons_units(open_shop: OpenShop) -> None:
    wide = lines(read(open_shop))["Window length gauged"]
    assert (wide.gauge, wide.wanted, wide.limits) == ("Window length: calipers", "5.5 mm", "5.38 to 5.62 mm")
    inch = lines(again(open_shop, units=Units.INCH))["Window length gauged"]
    # 5.5 mm is 0.2165 in; 5.38 mm is 0.21181 in and 5.62 mm 0.22126 in, each rounded inward.
    assert (inch.wanted, inch.limits) == ('0.217"', '0.212" to 0.221"')
    assert wide.has_value
    assert not lines(again(open_shop))["Dry fit"].has_value


def test_the_fundamental_has_its_aim_and_coats_their_time(open_shop: OpenShop) -> None:
    found = lines(read(open_shop))
    minus = "\N{MINUS SIGN}"
    assert (found["Fundamental checked"].wanted, found["Fundamental checked"].limits) == (
        f"{minus}8 cents",
        f"{minus}13 to {minus}3",
    )
    assert found["First coat"].wanted == "dries 12 hours"


def test_cautions_stand_at_their_steps_without_the_line_of_the_foot(open_shop: OpenShop) -> None:
    t = read(open_shop)
    with open_shop.database.read() as session:
        steps = session.exec(select(BlankStep).order_by(col(BlankStep.position))).all()
    printed = [line for block in t.stages for line in block.steps]
    assert sum(bool(step.caution) for step in steps) > 20
    for step, line in zip(steps, printed, strict=True):
        assert bool(step.caution) == bool(line.caution)
        assert FIRST not in line.caution
        assert line.caution == step.caution.removesuffix(FIRST).strip()
    spelled: dict[str, str] = {}
    for line in printed:
        assert line.as_above == (line.caution in spelled)
        if line.caution:
            assert spelled.setdefault(line.caution, line.letter) == line.letter
        else:
            assert not line.letter
    assert len(set(spelled.values())) == len(spelled) > 10


def test_a_caution_that_says_as_above_is_printed_as_it_was_typed(open_shop: OpenShop) -> None:
    read(open_shop)
    with open_shop.database.write() as session:
        step = step_named(session, "Bore gauged")
        step.caution = "as above"
        session.add(step)
        session.commit()
    line = lines(again(open_shop))["Bore gauged"]
    assert (line.caution, line.as_above) == ("as above", False)


def test_what_is_recorded_is_printed_as_done(open_shop: OpenShop) -> None:
    done = lines(read(open_shop, Wanted(steps=5)))
    assert (done["Bore gauged"].done, done["Bore gauged"].value) == (StepState.PASSED, "19.05 mm")
    assert (done["Bore gauged"].initials, done["Bore gauged"].when) == ("IV", "3 Mar 09:40")
    assert (done["Dry fit"].done, done["Dry fit"].initials, done["Dry fit"].when) == (StepState.OPEN, "", "")


def test_what_failed_or_was_let_pass_says_why(open_shop: OpenShop) -> None:
    read(open_shop)
    add_record(open_shop, "Dry fit", Outcome.FAILED, why="gap at the foot")
    add_record(open_shop, "Bore gauged", Outcome.LET_PASS, value=19.6, why="0.3 mm wide. Kept for a lower key.")
    found = lines(again(open_shop))
    assert found["Dry fit"].remark == "failed: gap at the foot"
    assert found["Bore gauged"].remark == "let pass: 0.3 mm wide. Kept for a lower key."
    assert found["Bore gauged"].value == "19.6 mm"
    assert found["Bore gauged"].initials == "Ta"


def test_what_was_taken_back_is_not_printed(open_shop: OpenShop) -> None:
    read(open_shop)
    first = add_record(open_shop, "Bore gauged", Outcome.PASSED, value=19.0)
    second = add_record(open_shop, "Bore gauged", Outcome.PASSED, value=19.1)
    assert lines(again(open_shop))["Bore gauged"].value == "19.1 mm"
    add_record(open_shop, "Bore gauged", Outcome.TAKEN_BACK, corrects_id=second)
    assert lines(again(open_shop))["Bore gauged"].value == "19 mm"
    add_record(open_shop, "Bore gauged", Outcome.TAKEN_BACK, corrects_id=first)
    assert lines(again(open_shop))["Bore gauged"].value == ""


def test_a_heard_step_shows_cents(open_shop: OpenShop) -> None:
    read(open_shop)
    add_record(open_shop, "Fundamental checked", Outcome.PASSED, value=-9.6)
    assert lines(again(open_shop))["Fundamental checked"].value == "\N{MINUS SIGN}10 ct"


def test_the_chart_has_targets_predictions_and_last_readings(open_shop: OpenShop) -> None:
    t = read(open_shop, Wanted(readings=True))
    assert [(n.fingering, n.name) for n in t.notes] == [(f, n) for f, n, _, _ in NOTES]
    # ISO 16:1975 puts A4 at 440 Hz; equal temperament puts C5 three semitones above it.
    assert [n.target for n in t.notes][:2] == ["440.0", f"{440 * 2 ** (3 / 12):.1f}"]
    assert t.notes[4].predicted == "\N{MINUS SIGN}2"
    assert t.notes[0].reading == "\N{MINUS SIGN}7"
    with open_shop.database.write() as session:
        last = session.exec(select(Reading).where(Reading.fingering == "xxxxxx")).one()
        copied = last.model_dump(exclude={"id", "at"})
        session.add(Reading(**{**copied, "cents": 1.2}, at=MORNING + timedelta(minutes=4)))
        session.commit()
    assert again(open_shop).notes[0].reading == "+1"


def test_a_pattern_without_notes_of_its_own_has_its_scales(open_shop: OpenShop) -> None:
    t = read(open_shop, Wanted(scale="chromatic"))
    assert len(t.notes) > 10
    assert {n.predicted for n in t.notes} == {""}


def test_holes_are_listed_from_the_splitting_edge(open_shop: OpenShop) -> None:
    table = read(open_shop).hole_table
    assert table.heads == ("hole", "from edge", "from last", "diameter", "undercut")
    assert table.rows[0] == ("1", "122.3", "", "7.1", "")
    assert table.rows[5] == ("6", "254.9", "27.5", "7.5", "0.5")
    assert table.rows[6] == ("foot", "301.0", "46.1", "6.4", "")
    inch = again(open_shop, units=Units.INCH).hole_table
    assert inch.rows[0] == ("1", '4 13/16"', "", '0.280"', "")


def test_a_flute_without_holes_has_an_empty_table(open_shop: OpenShop) -> None:
    plain = {**SIX_HOLES, "holes": [], "foot_holes": []}
    t = read(open_shop, Wanted(instrument=plain))
    assert t.hole_table.rows == ()
    assert t.holes == 0


def test_long_extras_are_cut_and_say_where_the_rest_is(open_shop: OpenShop) -> None:
    t = read(open_shop, Wanted(extras="word " * 190))
    assert len(t.extras) < MOST_EXTRAS + 50
    assert t.extras.endswith("(the rest is on the order’s page)")


def test_an_order_gives_all_its_blanks(open_shop: OpenShop) -> None:
    read(open_shop, Wanted(blanks=3, steps=2))
    with open_shop.database.read() as session:
        found = travelers_of_order(session, 7, Units.MM, URL)
    assert [t.serial for t in found] == ["AL-0042", "AL-0042-2", "AL-0042-3"]
    assert found[1] == replace(found[0], serial="AL-0042-2", address=f"{URL}/blanks/AL-0042-2")


def test_what_does_not_exist_is_not_found(open_shop: OpenShop) -> None:
    read(open_shop)
    with open_shop.database.write() as session:
        session.exec(select(Blank)).one().ordered_flute_id = None
        session.commit()
        with pytest.raises(NotFound, match="no order 8"):
            travelers_of_order(session, 8, Units.MM, URL)
        with pytest.raises(NotFound, match="No blanks"):
            travelers_of_order(session, session.exec(select(Order.number)).one(), Units.MM, URL)
        with pytest.raises(NotFound, match="AL-0043"):
            traveler(session, "AL-0043", Units.MM, URL)


def test_kinds_with_a_box_to_write_in_are_those_that_are_measured(open_shop: OpenShop) -> None:
    found = lines(read(open_shop))
    with open_shop.database.read() as session:
        for step in session.exec(select(BlankStep)):
            assert found[step.name].has_value == (step.kind in (StepKind.GAUGE, StepKind.FUNDAMENTAL))
