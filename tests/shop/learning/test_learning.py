"""The next flute is predicted from finished ones: readings, flutes left out, resets, and those taken back."""

from datetime import UTC, datetime, timedelta

import pytest

from acoustics.belief.corrections import WIDE
from acoustics.designing.design import design
from acoustics.designing.request import DesignRequest
from seed_demo.tuning import Flute
from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, BlankStatus, Evidence, Shop, Stage, now
from webapp.shop.advice import next_cut as advice
from webapp.shop.base.errors import NotAllowed, Refused
from webapp.shop.base.finding import find
from webapp.shop.bench import cuts, finished_flutes, readings
from webapp.shop.bench.cuts import RecordCut
from webapp.shop.bench.finished_flutes import Reason
from webapp.shop.bench.readings import RecordReading
from webapp.shop.learning import corrections, shown
from webapp.shop.settings import air

WIDER = 0.05  # share by which the holes of these flutes act wider than they measure


class _Level:
    """Dice without any scatter."""

    def gauss(self, mean: float, _sd: float) -> float:
        return mean


def finish(shop: OpenShop, count: int) -> list[int]:
    """Flutes whose holes act wider than they measure, cut once, read twice over and finished."""
    ids = []
    with shop.database.write() as session:
        instrument = design(DesignRequest.from_json({"key": "A4", "scale": "minor pentatonic", "holes": 6})).instrument
        made.pattern(session, shop.maker, "A4", instrument)
        medium = air.played(find(session, Shop, 1, "shop"))
        for blank in (made.opened(session, shop.maker)[0] for _ in range(count)):
            assert blank.id is not None
            goals = readings.goals_for(session, blank)
            flute = Flute(cuts.designed(session, blank), medium, {g.fingering: g.frequency for g in goals}, _Level())  # type: ignore[arg-type]
            flute.corrections = [0.0, 0.0, WIDER, 0.0]
            blank.stage = Stage.TUNING
            session.add(blank)
            session.commit()
            first = cuts.after(cuts.at_first(session, blank), [])
            cuts.record(session, shop.maker, blank.id, RecordCut(control=0, size=(first[0] or 0.0) - 1.0))
            sizes = cuts.after(first, cuts.of_blank(session, blank.id))
            for goal in goals * 2:
                pitch = goal.frequency * 2 ** (flute.cents(sizes, goal.fingering) / 1200)
                asked = RecordReading(
                    fingering=goal.fingering, pitch=f"{pitch:.3f}", temperature=20, humidity=50, warmed_up=True
                )
                readings.record(session, shop.maker, blank.id, asked)
            session.refresh(blank)
            blank.status, blank.stage, blank.finished_at = BlankStatus.FINISHED, Stage.FINISHING, now()
            session.add(blank)
            session.commit()
            ids.append(blank.id)
    return ids


def known(shop: OpenShop) -> corrections.Known:
    """What a flute of the first pattern begins with, everything calculated."""
    corrections.bring_up(shop.database)
    with shop.database.read() as session:
        assert not corrections.behind(session)
        return corrections.known(session, 1)


def test_what_the_shop_learns_from_finished_flutes(open_shop: OpenShop) -> None:
    with open_shop.database.read() as session:
        told = shown.told(session, find(session, Shop, 1, "shop"))
        assert told.flutes == 0 and [figure.mean for figure in told.figures] == [0, 0, 0, 0]
        assert told.figures[2].stated == pytest.approx(100 * WIDE["holes"])
        assert not corrections.behind(session) and corrections.known(session, 1) == corrections.Known()
    one, two, three = finish(open_shop, 3)
    with open_shop.database.read() as session:
        assert corrections.behind(session)
    first = known(open_shop)
    assert (first.of_pattern, first.of_all) == (3, 3)
    with open_shop.database.read() as session:
        # Their pattern is from before flats were known; a flute with its real head learns nothing from them.
        assert corrections.known(session, 1, planed=False) == first
        assert corrections.known(session, 1, planed=True).prior == corrections.Known().prior
    # Drawn to the stated prior, whose mean is nothing, but well on the way to the truth.
    assert 0.4 * WIDER < first.prior.mean[2] < WIDER
    with open_shop.database.read() as session:
        told = shown.told(session, find(session, Shop, 1, "shop"))
        assert told.in_all is not None and told.in_all.after[1] < 0.6 * told.in_all.before[1]
        assert "wider" in told.figures[2].sentence
        # Each is foreseen by those before it alone: the first by the model, the last by what two have taught.
        assert [step.alone for step in told.course] == pytest.approx([told.course[0].alone] * 3, abs=1.0)
        assert told.course[0].off == pytest.approx(told.course[0].alone)
        assert told.course[2].off < 0.5 * told.course[0].off
        assert told.now_and_then == (pytest.approx(shown.usual(told.course)), None)
        # Three flutes still leave it open which correction it is.
        assert told.most_told is None or told.most_told.name == "Finger holes"
        assert [one.is_in for one in told.listed] == [True] * 3 and told.faults == []
        # The next flute of the pattern starts from there, and the bench says so.
        [other] = session.exec(made.select(Blank).where(Blank.id == one)).all()
        shop = find(session, Shop, 1, "shop")
        every, goals = readings.of_blank(session, one), readings.goals_for(session, other)
        found = advice.for_blank(session, shop, other, goals, every, cuts.of_blank(session, one))
        assert found is not None and "3 finished flutes of this pattern" in found.rests

    with open_shop.database.write() as session:
        with pytest.raises(NotAllowed):
            finished_flutes.leave_out(session, open_shop.office, two, Reason(why="no"))
        finished_flutes.leave_out(session, open_shop.maker, two, Reason(why="a crack was filled"))
        with pytest.raises(Refused, match="left out already"):
            finished_flutes.leave_out(session, open_shop.maker, two, Reason(why="twice"))
        # Until it is calculated again, nothing is taken for known.
        assert corrections.known(session, 1) == corrections.Known()
    assert known(open_shop).of_all == 2
    with open_shop.database.write() as session:
        assert [p.why for p in finished_flutes.pupils(session) if not p.counts] == ["a crack was filled"]
        finished_flutes.take_in(session, open_shop.maker, two)
    assert known(open_shop).prior == first.prior

    with open_shop.database.write() as session:
        with pytest.raises(NotAllowed):
            finished_flutes.reset(session, open_shop.maker, Reason(why="no"))
        reset = finished_flutes.reset(session, open_shop.owner, Reason(why="a new window jig"))
        assert finished_flutes.pupils(session) == []
    assert known(open_shop) == corrections.Known()
    with open_shop.database.write() as session:
        finished_flutes.take_reset_back(session, open_shop.owner, reset.id or 0, Reason(why="it made no difference"))
        with pytest.raises(Refused, match="already"):
            finished_flutes.take_reset_back(session, open_shop.owner, reset.id or 0, Reason(why="again"))
        assert [one.holds for one in finished_flutes.resets(session)] == [False, False]
    assert known(open_shop).prior == first.prior

    # A reading taken back has the flute's own evidence calculated again, and what is left may be too little.
    with open_shop.database.write() as session:
        before = find_evidence(session, three)
        for reading in readings.counted(readings.of_blank(session, three))[:7]:
            readings.take_back(session, open_shop.maker, reading.id or 0, readings.TakeBackReading(why="wrong meter"))
        assert corrections.behind(session)
    assert known(open_shop).of_all == 3
    with open_shop.database.write() as session:
        assert find_evidence(session, three) != before
        [made_cut] = cuts.counted(cuts.of_blank(session, one))
        cuts.take_back(session, open_shop.maker, made_cut.id or 0, cuts.TakeBackCut(why="never made"))
    assert known(open_shop).of_all == 2
    with open_shop.database.read() as session:
        told = shown.told(session, find(session, Shop, 1, "shop"))
        assert [(count, "no cut is written down" in why) for why, count in told.faults] == [(1, True)]


def test_another_engine_version_calculates_all_again(open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch) -> None:
    [one] = finish(open_shop, 1)
    known(open_shop)
    with open_shop.database.read() as session:
        before = find_evidence(session, one)
    monkeypatch.setattr(corrections, "VERSION", corrections.VERSION + 1)
    with open_shop.database.read() as session:
        assert corrections.behind(session)
    assert known(open_shop).of_all == 1
    with open_shop.database.read() as session:
        assert find_evidence(session, one) != before


def find_evidence(session: made.Session, blank_id: int) -> str:
    row = session.get(Evidence, blank_id)
    assert row is not None
    return row.based_on


def test_a_year_ago_is_told_of_the_flutes_that_were_the_last_then() -> None:
    def step(days: int, off: float) -> shown.Step:
        return shown.Step(f"F{days}", 1, datetime(2026, 1, 1, tzinfo=UTC) + timedelta(days=days), off, 20.0)

    early = tuple(step(days, 14.0) for days in range(0, 50, 10))
    late = tuple(step(days, 6.0) for days in range(400, 500, 10))
    told = shown.Told(15, None, (), (), early + late, None, ())
    assert told.now_and_then == (pytest.approx(6.0), pytest.approx(14.0))
    assert shown.Told(5, None, (), (), early, None, ()).now_and_then == (pytest.approx(14.0), None)
    assert shown.Told(2, None, (), (), early[:2], None, ()).now_and_then is None
    holes = shown.Figure("Finger holes", "%", 2, 2.0, 0.5, 1.0, 3.0, "act wider")
    window = shown.Figure("The window", "of the bore's radius", 2, 0.3, 0.2, 0.3, 0.3, "acts longer")
    assert shown.Told(5, None, (window, holes), (), early, None, ()).most_told is holes
    line = shown.running(early + late)
    assert len(line) == 13
    assert line[0][1] == pytest.approx(14.0)
    assert line[-1][1] == pytest.approx(6.0)
