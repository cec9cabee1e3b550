"""Routings: the shop's own orders of work, their versions, and what a blank keeps of them."""

from dataclasses import replace
from typing import Any

import pytest
from sqlmodel import select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, Outcome, Pattern, RoutingVersion, Stage, StepKind, Units
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound, Refused
from webapp.shop.blanks.state import steps_of
from webapp.shop.production import stages
from webapp.shop.production.stages import RecordStep
from webapp.shop.routings import rules as routings, steps as routing_steps
from webapp.shop.routings.built_in import BUILT_IN, planned
from webapp.shop.routings.forms import NewRouting, RoutingAsked, StepAsked, as_typed, limits_in_words, to_step
from webapp.shop.routings.step_plan import FIXED, Size, Step

# The steps that the trade takes, in its order (common practice, no published source), by words of their names.
TRADE = [
    *("flaws filled", "bore sanded", "bore gauged", "halves planed until they meet", "centre marked", "kerfs and air"),
    *("dry fit", "glue-up", "squeeze-out swabbed", "cured", "scraped", "planed to size", "flue marked", "flue cut"),
    *("flue depth", "flue width", "window opened", "back wall cleaned", "splitting edge filed", "block fitted"),
    *("fundamental checked", "turned", "sanded", "finger hole 6 started small", "tuned", "sealed", "first coat"),
    *("last coat", "last tuning", "final check"),
]


def test_the_built_in_routing_has_the_steps_of_the_trade_in_their_order() -> None:
    names = [step.name.lower() for step, _ in planned(BUILT_IN, made.FLUTE)]
    at = 0
    for words in TRADE:
        at = next(index for index in range(at, len(names)) if words in names[index]) + 1
    codes = [step.code for step in BUILT_IN]
    assert len(set(codes)) == len(codes)
    for step in BUILT_IN:
        assert Step.from_json(step.to_json()) == step
        for units in Units:
            again = StepAsked.model_validate(
                {name: value for name, value in as_typed(step, units).items() if value != ""}, context={"units": units}
            )
            assert to_step(again, step.code) == step, step.name


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"kind": "gauge"}, "gauge"),
        ({"kind": "gauge", "gauge": "x", "of": "nothing"}, "of"),
        ({"kind": "gauge", "gauge": "x", "under": "1"}, "of"),
        ({"kind": "gauge", "gauge": "x", "of": FIXED}, "offset"),
        ({"kind": "gauge", "gauge": "x", "of": "flue-depth", "under": "1", "cents": "2"}, "cents"),
        ({"kind": "gauge", "gauge": "x", "of": "wall", "cents": "2"}, "cents"),
        ({"kind": "coat"}, "minutes"),
        ({"shows": "the moon"}, "shows"),
    ],
)
def test_a_step_without_sense_is_refused_at_its_field(typed: dict[str, str], field: str) -> None:
    asked = StepAsked.model_validate({"stage": "flue", "name": "Thing done", **typed}, context={"units": Units.MM})
    with pytest.raises(Invalid) as error:
        to_step(asked, "own-1")
    assert field in error.value.errors


def test_limits_are_said_in_each_persons_units() -> None:
    step = Step(Stage.GLUING, "x", "X", kind=StepKind.GAUGE, gauge="g", size=Size("outside", 25.4 / 64, 0.254, 0.508))
    assert limits_in_words(step, Units.INCH) == 'the finished outside + 1/64", up to 0.010" less or 0.020" more'
    assert limits_in_words(step, Units.MM) == "the finished outside + 0.4 mm, up to 0.25 mm less or 0.51 mm more"
    narrowed = replace(step, size=Size("outside", 0.0, 0.25, None, 2.5))
    said = "the finished outside, up to 0.25 mm less, and no further than moves a note by 2.5 cents"
    assert limits_in_words(narrowed, Units.MM) == said


def asked(**typed: Any) -> StepAsked:
    return StepAsked.model_validate({"stage": "flue", "name": "Lip flattened", **typed}, context={"units": Units.MM})


def test_a_family_gets_its_own_routing_and_open_blanks_keep_theirs(open_shop: OpenShop) -> None:
    who = open_shop.maker
    with open_shop.database.write() as session:
        before = made.opened(session, who)[0]
        usual = routings.of_pattern(session, session.exec(select(Pattern)).one())
        assert usual and usual.is_usual and before.routing_version_id == routings.newest(session, usual).id
        own = routings.add(session, who, NewRouting(name="Bored from the solid", copy_of=usual.id or 0))
        assert own.id
        session.commit()
        with pytest.raises(Invalid):
            routings.add(session, who, NewRouting(name="BORED from the solid"))
        session.rollback()
        # Add, move, change and remove; nothing was opened from it, so all of it is still its first version.
        code = routing_steps.add_step(session, who, own.id, asked(photo=True, after="flue"))
        routing_steps.move_step(session, who, own.id, code, up=True)
        gauge = {"kind": "gauge", "gauge": "Flue length: rule", "of": "flue-length", "offset": "-0.5", "over": "1"}
        gauged = routing_steps.add_step(session, who, own.id, asked(name="Flue length gauged", **gauge))
        routing_steps.remove_step(session, who, own.id, "flue-width")
        plan = routings.steps_in(routings.newest(session, own))
        flue = [step.code for step in plan if step.stage is Stage.FLUE]
        assert flue == ["seat", "seat-width", "flue-marked", code, "flue", "flue-depth", gauged]
        assert len(routings.versions(session, own)) == 1
        session.commit()
        with pytest.raises(Refused, match="no glue-up comes before it"):
            routing_steps.remove_step(session, who, own.id, "glue-up")
        session.rollback()
        with pytest.raises(NotFound):
            routing_steps.remove_step(session, who, own.id, "flue-width")
        session.rollback()

        pattern = session.exec(select(Pattern)).one()
        assert pattern.id
        routings.choose(session, who, pattern.id, own.id)
        blank = made.opened(session, who)[0]
        assert blank.id and before.id
        steps = {step.code: step for step in steps_of(session, blank.id)}
        assert steps[gauged].nominal == 23.5 and steps[gauged].low is None and steps[gauged].high == 24.5
        assert steps[code].photo and "flue-width" not in steps
        assert "flue-width" in {step.code for step in steps_of(session, before.id)}

        # From now on a change begins another version, and the first can be brought back.
        routing_steps.change_step(session, who, own.id, code, asked(name="Lip made flat", photo=True))
        assert [(v.number, count) for v, count in routings.versions(session, own)] == [(2, 0), (1, 1)]
        names = {step.name for step in steps_of(session, blank.id)}
        assert "Lip flattened" in names and "Lip made flat" not in names
        routing_steps.bring_back(session, who, own.id, 1)
        back = routings.steps_in(routings.newest(session, own))
        assert "Lip flattened" in {step.name for step in back}
        routing_steps.bring_back(session, who, own.id, None)
        assert routings.steps_in(routings.newest(session, own)) == list(BUILT_IN)

        with pytest.raises(Refused, match="go by it"):
            routings.put_away(session, who, own.id, True)
        session.rollback()
        routings.make_usual(session, who, own.id)
        routings.choose(session, who, pattern.id, None)
        assert [one.routing.is_usual for one in routings.listed(session)] == [True, False]
        assert usual.id and routings.put_away(session, who, usual.id, True).put_away
        with pytest.raises(Refused, match="put away"):
            routings.make_usual(session, who, usual.id)
        session.rollback()
        assert routings.rename(session, who, own.id, RoutingAsked(name="From the solid")).name == "From the solid"
        with pytest.raises(NotAllowed):
            routings.begin(session, open_shop.viewer)


def test_a_picture_that_is_asked_for_is_taken_or_its_absence_explained(open_shop: OpenShop) -> None:
    who = open_shop.maker
    with open_shop.database.write() as session:
        usual = routings.ensure(session)
        assert usual.id
        first = asked(name="Board looked over", stage="boring", photo=True, after="first")
        code = routing_steps.add_step(session, who, usual.id, first)
        blank = made.opened(session, who)[0]
        step = made.step(session, blank, code)
        assert step.position == 1 and step.id
        session.commit()
        with pytest.raises(Invalid) as error:
            stages.record(session, who, step.id, RecordStep())
        assert "no_picture" in error.value.errors
        session.rollback()
        record = stages.record(session, who, step.id, RecordStep(no_picture="the battery was empty"))
        assert record.outcome is Outcome.PASSED and record.note == "No picture: the battery was empty"


def test_a_routing_may_glue_twice(open_shop: OpenShop) -> None:
    who = open_shop.maker
    with open_shop.database.write() as session:
        usual = routings.ensure(session)
        assert usual.id
        cap = asked(name="Cap glued on", stage="gluing", kind="glue-up", after="planed")
        glued = routing_steps.add_step(session, who, usual.id, cap)
        cured = asked(name="Cap cured", stage="gluing", kind="cure", after=glued)
        routing_steps.add_step(session, who, usual.id, cured)
        blank = made.opened(session, who)[0]
        made.bring_to(session, who, blank, glued)
        assert blank.next_name == "Cap glued on" and blank.waits_for is None
        made.bring_to(session, who, blank, "flue-marked")
        assert blank.stage is Stage.FLUE
        assert session.exec(select(Blank.routing_version_id)).one() == session.exec(select(RoutingVersion.id)).one()
