"""Ten thousand flutes: a run is written down, carried out, and what came out stands in the database."""

from datetime import timedelta

import numpy as np
import pytest

from acoustics.designing.tolerance import Tolerances
from acoustics.model.resonance import Mode, predict
from tests.blanks import FLUTE, pattern
from tests.jobs.at_once import AtOnce
from tests.shops import OpenShop
from webapp import job_kinds
from webapp.jobs import claims
from webapp.models import PatternRevision, Shop, SpreadRun, at, now
from webapp.shop.base.errors import NotAllowed, Refused
from webapp.shop.bench import spreads
from webapp.shop.bench.spreads import TolerancesAsked
from webapp.shop.learning import untuned
from webapp.shop.patterns import rules as patterns
from webapp.shop.settings import air


@pytest.fixture
def revision(open_shop: OpenShop) -> PatternRevision:
    with open_shop.database.write() as session:
        found = session.get(PatternRevision, pattern(session, open_shop.maker))
        assert found is not None
        return found


def started(shop: OpenShop, revision: PatternRevision, **asked: float) -> SpreadRun:
    with shop.database.write() as session:
        return spreads.start(session, shop.maker, revision.pattern_id, revision.number, TolerancesAsked(**asked))


def newest(shop: OpenShop, revision: PatternRevision) -> SpreadRun:
    with shop.database.read() as session:
        found = spreads.latest(session, revision.id or 0)
        assert found is not None
        return found


def test_a_run_is_carried_out_and_kept(
    open_shop: OpenShop, revision: PatternRevision, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(spreads, "FLUTES", 2000)
    seen: list[int] = []
    save = claims.save
    monkeypatch.setattr(claims, "save", lambda *which, **v: (seen.append(v.get("done", -1)), save(*which, **v))[1])
    run = started(open_shop, revision, temperature=0.0, foot=1.0)
    assert claims.under_way(run)
    spreads.calculate(open_shop.database, run.id or 0)
    assert seen == [1000, 2000], "progress is told on the way"
    run = newest(open_shop, revision)
    assert not claims.under_way(run)
    assert run.fault == ""
    assert run.result is not None
    assert run.result["flutes"] == run.done == 2000
    shares = {one["dimension"]: one["share"] for one in run.result["care"]}
    assert sum(shares.values()) == pytest.approx(1.0)
    assert shares["air"] == 0.0
    with open_shop.database.read() as session:
        found = spreads.rates(session, revision, patterns.pattern_of(session, revision.pattern_id))
    calculated = {one.kind: one.share for one in spreads.care(found, Tolerances.from_json(run.tolerances))}
    assert calculated == pytest.approx(shares), "what deserves care is the same before and after"


def test_the_rates_are_those_of_a_flute_that_is_made_a_little_different(
    open_shop: OpenShop, revision: PatternRevision
) -> None:
    """Against plain finite differences of the engine's own prediction."""
    with open_shop.database.read() as session:
        found = spreads.rates(session, revision, patterns.pattern_of(session, revision.pattern_id))
        shop = session.get(Shop, 1)
        assert shop is not None
        medium = air.played(shop)
    document = FLUTE.to_json()
    document["holes"][2]["diameter"] += 0.1
    wider = type(FLUTE).from_json(document)
    row = next(i for i, d in enumerate(found.dimensions) if d.name == "diameter of hole 3")
    cents = []
    for before, after in zip(
        predict(FLUTE, medium, found.fingerings, 1), predict(wider, medium, found.fingerings, 1), strict=True
    ):
        assert isinstance(before.modes[0], Mode)
        assert isinstance(after.modes[0], Mode)
        cents.append(1200 * np.log2(after.modes[0].frequency / before.modes[0].frequency))
    assert cents == pytest.approx(found.cents[row], abs=0.05)


def test_one_run_at_a_time_and_a_run_whose_process_ended_is_not_waited_for(
    open_shop: OpenShop, revision: PatternRevision
) -> None:
    started(open_shop, revision)
    with pytest.raises(Refused, match="already"):
        started(open_shop, revision)
    with at(now() + timedelta(minutes=2)):
        assert not claims.under_way(newest(open_shop, revision))
        again = started(open_shop, revision)
    assert newest(open_shop, revision).id == again.id


def test_what_goes_wrong_is_written_into_the_run(open_shop: OpenShop, revision: PatternRevision) -> None:
    run = started(open_shop, revision)
    with open_shop.database.write() as session:
        broken = session.get(PatternRevision, revision.id)
        assert broken is not None
        broken.instrument = broken.instrument | {"body": {"outside": "round", "wall": -1}}
        session.add(broken)
        session.commit()
    AtOnce(open_shop.database).enqueue(job_kinds.SPREAD, run.id or 0)
    run = newest(open_shop, revision)
    assert "wall" in run.fault and "must be" in run.fault, "in plain words, without the engine's path"
    assert "body." not in run.fault
    assert not claims.under_way(run)


def test_someone_who_may_only_look_starts_nothing(open_shop: OpenShop, revision: PatternRevision) -> None:
    with open_shop.database.write() as session, pytest.raises(NotAllowed):
        spreads.start(session, open_shop.viewer, revision.pattern_id, revision.number, TolerancesAsked())


def test_what_the_model_leaves_open_is_in_it(
    open_shop: OpenShop, revision: PatternRevision, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Careful hands alone promise far more than a shop that has heard none of these flutes can."""
    monkeypatch.setattr(spreads, "FLUTES", 1000)
    spreads_of = []
    for calculate in (spreads.calculate, untuned.calculate):
        run = started(open_shop, revision, hole_position=0.0, hole_diameter=0.0)
        calculate(open_shop.database, run.id or 0)
        result = newest(open_shop, revision).result
        assert result is not None
        spreads_of.append(float(np.mean([note["sd"] for note in result["notes"]])))
    assert job_kinds.SPREAD.work is untuned.calculate
    # 8 cents of breath and 0.3 bore radii of window are stated before any flute has told.
    assert spreads_of[1] > max(8.0, 1.2 * spreads_of[0])
