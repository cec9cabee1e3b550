"""From what is typed to the engine and back: limits that were typed are kept, refusals stand at their fields."""

import pytest
from sqlmodel import select

from acoustics.instrument import Instrument
from tests.shops import OpenShop
from webapp.models import Drill
from webapp.shop import patterns
from webapp.shop.designing import design_for, request_for
from webapp.shop.errors import Invalid, Refused
from webapp.shop.pattern_forms import DesignAsked, SavePattern, SaveRevision


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
