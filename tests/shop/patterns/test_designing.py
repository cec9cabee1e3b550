"""From what is typed to the engine and back: limits that were typed are kept, refusals stand at their fields."""

import pytest
from sqlmodel import select

from acoustics.flute.instrument import Instrument
from acoustics.saying import Saying
from tests.shops import OpenShop
from webapp.models import Drill, Units
from webapp.pages.frame import designs
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.designing import design_for, request_for
from webapp.shop.patterns.forms import DesignAsked, SavePattern, SaveRevision


def test_holes_are_made_by_the_shops_own_drills_and_within_the_hand(open_shop: OpenShop) -> None:
    with open_shop.database.read() as session:
        designed = design_for(session, DesignAsked(key="A4", reach=185.0))
        rack = session.exec(select(Drill.diameter)).all()
    flute = designed.design.instrument
    assert not designed.gave
    assert all(any(hole.diameter == pytest.approx(drill) for drill in rack) for hole in flute.holes)
    assert flute.holes[-1].x - flute.holes[0].x <= 185.0 + 0.03


def test_the_air_is_the_shops_played_air(open_shop: OpenShop) -> None:
    with open_shop.database.read() as session:
        assert request_for(session, DesignAsked(key="A4"))["air"] == {
            "temperature": 24.0,
            "relative_humidity": 0.9,
            "co2": 0.03,
        }


def test_one_typed_half_of_a_pair_keeps_the_usual_other_half(open_shop: OpenShop) -> None:
    with open_shop.database.read() as session:
        usual = request_for(session, DesignAsked(key="A4"))
        assert "limits" not in usual
        low, high = request_for(session, DesignAsked(key="A4", spacing_most=28.0))["limits"]["spacing"]
        assert (low < 28.0, high) == (True, 28.0)
        assert request_for(session, DesignAsked(key="A4", spacing_most=15.0))["limits"]["spacing"] == [15.0, 15.0]
        assert request_for(session, DesignAsked(key="A4", smallest_hole=6.0))["limits"]["diameter"][0] == 6.0


def test_whatever_is_typed_reaches_the_engine_and_comes_back_as_typed(open_shop: OpenShop) -> None:
    typed = {
        "key": "D4", "third_hole": "in turn", "reach": 200.0, "edge_angle": 35.0, "spacing_least": 20.0,
        "hands_gap_least": 26.0, "hands_gap_most": 50.0, "to_window": 60.0, "to_foot": 45.0, "smallest_hole": 6.0,
        "largest_hole": 10.0, "second_register_weight": 0.5, "stub": 4.0, "window_width": 14.0, "drills": "any",
    }  # fmt: skip
    asked = DesignAsked.model_validate(typed)
    with open_shop.database.read() as session:
        request = request_for(session, asked)
        designed = design_for(session, asked)
    assert request["third_hole_closed"] is False
    assert request["window"] == {"width": 14.0, "edge_angle": 35.0}
    assert request["limits"]["hands_gap"] == [26.0, 50.0]
    flute = designed.design.instrument
    assert "xoxooo" not in {note.fingering for note in designed.design.notes}
    assert flute.window.edge_angle == 35.0
    assert flute.holes[3].x - flute.holes[2].x >= 26.0 - 0.03
    assert flute.holes[0].x >= 60.0 - 0.03
    assert flute.foot_x - flute.holes[-1].x >= 45.0 - 0.03
    assert all(6.0 <= hole.diameter <= 10.0 for hole in flute.holes)
    form = {name: text for name, text in designs.as_typed(request, Units.INCH).items() if text}
    again = DesignAsked.model_validate(form, context={"units": Units.INCH})
    for name, value in typed.items():
        assert getattr(again, name) == value, name
    # On five holes, or in another scale, the third hole has no choice.
    with open_shop.database.read() as session:
        plain = asked.model_copy(update={"scale": "major"})
        assert "third_hole_closed" not in request_for(session, plain)


def test_what_cannot_be_had_says_whether_any_size_of_hole_would_do(open_shop: OpenShop) -> None:
    """Sentences carry their lengths, and are kept with them: each person sees their own units."""
    narrow = DesignAsked(key="D4", reach=90.0, spacing_least=15.0, spacing_most=20.0)
    with open_shop.database.write() as session:
        designed = design_for(session, narrow)
        assert bool(designed.gave)
        any_size = design_for(session, narrow.model_copy(update={"drills": "any"}))
        assert designed.any_size_would_do == (not any_size.gave)
        revision = patterns.save_pattern(session, open_shop.maker, narrow, SavePattern(name="narrow", accept=True))
        kept = [Saying.again(one) for one in revision.warnings]
    assert kept[0] == designed.gave[0].after("had to give: ")
    assert 'its limit of 0.787"' in designs.spoken(kept, Units.INCH)[0]
    assert "its limit of 20 mm" in designs.spoken(kept, Units.MM)[0]
    assert designs.spoken([Saying.again("kept {before} this")], Units.INCH) == ["kept {before} this"]


def test_a_further_revision_keeps_its_patterns_fingerings(open_shop: OpenShop) -> None:
    asked = DesignAsked(key="A4", third_hole="in turn")
    with open_shop.database.write() as session:
        first = patterns.save_pattern(session, open_shop.maker, asked, SavePattern(name="in turn"))
        closed = asked.model_copy(update={"third_hole": "closed"})
        with pytest.raises(Refused, match="fingerings"):
            patterns.save_revision(session, open_shop.maker, first.pattern_id, closed, SaveRevision(note="x"))
        assert patterns.opens_in_turn(session, patterns.pattern_of(session, first.pattern_id))


def test_a_drill_rack_that_fits_no_hole_is_said_at_the_drills(open_shop: OpenShop) -> None:
    with open_shop.database.read() as session, pytest.raises(Invalid) as caught:
        design_for(session, DesignAsked(key="A4", smallest_hole=6.01, largest_hole=6.02))
    assert set(caught.value.errors) == {"drills"}


def test_a_revision_holds_exactly_what_was_designed(open_shop: OpenShop) -> None:
    asked = DesignAsked(key="Bb4", holes=5)
    with open_shop.database.write() as session:
        designed = design_for(session, asked)
        revision = patterns.save_pattern(session, open_shop.maker, asked, SavePattern(name="B flat"))
        pattern_id = revision.pattern_id
    with open_shop.database.read() as session:
        kept = patterns.revision_of(session, pattern_id, 1)
        assert patterns.instrument_of(kept) == designed.design.instrument
        assert isinstance(patterns.instrument_of(kept), Instrument)
        targets = patterns.targets_of(patterns.pattern_of(session, pattern_id))
        assert [note["fingering"] for note in kept.notes] == [target.fingering for target in targets]


def test_proven_patterns_are_found_by_sound_alone_last_proven_first(open_shop: OpenShop) -> None:
    who = open_shop.maker
    with open_shop.database.write() as session:
        first = patterns.save_pattern(session, who, DesignAsked(key="F#4"), SavePattern(name="first"))
        second = patterns.save_pattern(session, who, DesignAsked(key="Gb4"), SavePattern(name="second"))
        patterns.save_pattern(session, who, DesignAsked(key="F#4", a4=432.0), SavePattern(name="low"))
        patterns.save_revision(session, who, first.pattern_id, DesignAsked(key="F#4", wall=6.0), SaveRevision(note="x"))
        assert not patterns.proven_for(session, "F#4", "minor pentatonic", 6, 440.0)
        patterns.mark_proven(session, who, first.pattern_id, 1)
        patterns.mark_proven(session, who, second.pattern_id, 1)
        found = patterns.proven_for(session, "Gb4", "minor pentatonic", 6, 440.0)
        assert [(pattern.name, revision.number) for pattern, revision in found] == [("second", 1), ("first", 1)]
        fitting = patterns.fitting(session, "F#4", "minor pentatonic", 6, 440.0)
        assert [(p.name, r.number) for p, r in fitting] == [("second", 1), ("first", 1), ("first", 2)]
        with pytest.raises(Refused):
            patterns.save_revision(session, who, first.pattern_id, DesignAsked(key="G4"), SaveRevision(note="x"))
