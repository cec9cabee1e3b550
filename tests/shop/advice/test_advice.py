"""Cuts and the advice that follows them: only larger, only shorter, and from the flute as it was at each reading."""

import pytest

from acoustics.designing.design import design
from acoustics.designing.request import DesignRequest
from acoustics.flute.instrument import Instrument
from acoustics.tuning.aims import controls_of
from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, Shop, Stage
from webapp.shop.advice import next_cut as advice
from webapp.shop.advice.next_cut import Advised
from webapp.shop.base.errors import Invalid, NotAllowed, Refused
from webapp.shop.base.finding import find
from webapp.shop.bench import cuts, readings
from webapp.shop.bench.cuts import RecordCut, TakeBackCut
from webapp.shop.bench.readings import RecordReading


@pytest.fixture(scope="module")
def flute() -> Instrument:
    """A flute that its model holds to be in tune: what is cut further would be cut too far."""
    return design(DesignRequest.from_json({"key": "A4", "scale": "minor pentatonic", "holes": 6})).instrument


@pytest.fixture
def blank(open_shop: OpenShop, flute: Instrument) -> Blank:
    with open_shop.database.write() as session:
        made.pattern(session, open_shop.maker, "A4", flute)
        [blank] = made.opened(session, open_shop.maker)
        made.bring_to(session, open_shop.maker, blank, "tuned")
    return blank


def cut(shop: OpenShop, blank: Blank, control: int, size: float) -> int:
    with shop.database.write() as session:
        row = cuts.record(session, shop.maker, blank.id or 0, RecordCut(control=control, size=size))
        return row.id or 0


def sizes(shop: OpenShop, blank: Blank) -> cuts.Sizes:
    with shop.database.read() as session:
        return cuts.after(cuts.at_first(session, blank), cuts.of_blank(session, blank.id or 0))


def asked(shop: OpenShop, blank: Blank) -> Advised:
    with shop.database.read() as session:
        every = readings.of_blank(session, blank.id or 0)
        goals = readings.goals_for(session, blank)
        known = find(session, Shop, 1, "shop")
        found = advice.for_blank(session, known, blank, goals, every, cuts.of_blank(session, blank.id or 0))
    assert found is not None
    return found


def read(shop: OpenShop, blank: Blank, fingering: str, sounds: dict[str, tuple[float, float]]) -> None:
    """Write down that a note sounds so many cents from its target."""
    with shop.database.write() as session:
        [goal] = [goal for goal in readings.goals_for(session, blank) if goal.fingering == fingering]
        pitch = f"{goal.frequency * 2 ** (sounds[fingering][0] / 1200):.3f}"
        told = RecordReading(fingering=fingering, pitch=pitch, temperature=20, humidity=50, warmed_up=True)
        readings.record(session, shop.maker, blank.id or 0, told)


def test_the_blank_as_it_is_follows_from_its_cuts(open_shop: OpenShop, blank: Blank) -> None:
    before = sizes(open_shop, blank)
    assert before[0] is not None and before[6] is not None
    first = cut(open_shop, blank, 6, before[6] + 0.3)
    cut(open_shop, blank, 0, before[0] - 1.0)
    assert sizes(open_shop, blank)[6] == before[6] + 0.3 and sizes(open_shop, blank)[0] == before[0] - 1.0
    with open_shop.database.write() as session:
        cuts.take_back(session, open_shop.maker, first, TakeBackCut(why="it was hole 5"))
    assert sizes(open_shop, blank)[6] == before[6]
    with open_shop.database.write() as session, pytest.raises(Refused, match="already"):
        cuts.take_back(session, open_shop.maker, first, TakeBackCut(why="again"))


@pytest.mark.parametrize(
    ("control", "size", "field"),
    [(6, 2.0, "size"), (0, 400.0, "size"), (0, 200.0, "size"), (3, 19.5, "size"), (7, 8.0, "control")],
)
def test_what_can_not_be_cut(open_shop: OpenShop, blank: Blank, control: int, size: float, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        cut(open_shop, blank, control, size)
    assert list(refused.value.errors) == [field]


def test_only_who_works_cuts_and_only_at_the_bench(open_shop: OpenShop, blank: Blank) -> None:
    order = RecordCut(control=6, size=6.9)
    with open_shop.database.write() as session, pytest.raises(NotAllowed):
        cuts.record(session, open_shop.viewer, blank.id or 0, order)
    with open_shop.database.write() as session:
        [other] = made.opened(session, open_shop.maker)
        with pytest.raises(Refused, match="not at the tuning bench"):
            cuts.record(session, open_shop.maker, other.id or 0, order)


def test_advice_reads_first_then_cuts_what_is_flat(open_shop: OpenShop, blank: Blank) -> None:
    fresh = asked(open_shop, blank)
    assert fresh.action == "measure" and fresh.control is None and fresh.why
    # A flute that sounds just as its model says, its holes still too small; it is read as often as is asked for.
    found = fresh
    for _ in range(20):
        if found.control is not None:
            break
        read(open_shop, blank, found.fingering or "", fresh.notes)
        found = asked(open_shop, blank)
    assert found.action in ("open hole", "shorten foot") and found.to is not None and found.control is not None
    assert found.why.endswith(".") and found.flute is not None
    now = controls_of(found.flute)[found.control]
    assert found.start == pytest.approx(now, abs=0.02)
    assert found.to > now if found.control else found.to < now
    assert set(found.notes) == {"xxxxxx", "xxxxxo", "xxxxoo", "xxxooo", "xxoooo", "xoxooo", "ooxooo"}
    # Its foot and holes were gauged when they were started: nothing is assumed.
    assert found.assumed == () and "the shop has not learned from any finished flute yet" in found.rests
    cut(open_shop, blank, found.control, found.to)
    assert asked(open_shop, blank) != found


def test_a_tuned_flute_of_unknown_sizes_gets_no_advice(open_shop: OpenShop, blank: Blank) -> None:
    with open_shop.database.write() as session:
        made.read_all(session, open_shop.maker, blank)
        made.passed(session, open_shop.maker, blank, "tuned")
        blank = find(session, Blank, blank.id or 0, "blank")
    assert blank.stage is Stage.FINISHING
    found = asked(open_shop, blank)
    assert found.control is None and "not known" in found.why
    first = sizes(open_shop, blank)[6]
    assert first is not None
    cut(open_shop, blank, 6, first + 0.3)
    assert "not known" not in asked(open_shop, blank).why


def test_a_failure_is_said_in_words(open_shop: OpenShop, blank: Blank, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_document: object) -> None:
        raise ArithmeticError("singular")

    monkeypatch.setattr(advice, "advised", broken)
    assert "No advice could be worked out" in asked(open_shop, blank).why
