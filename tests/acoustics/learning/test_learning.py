"""What finished flutes teach: shrinkage between families, exclusion, reset, and honest before and after."""

from typing import Any

import numpy as np
import pytest

from acoustics.belief.corrections import NAMES, WIDE, Prior
from acoustics.commands import advise
from acoustics.errors import InvalidInput
from acoustics.learning.estimate import FinishedFlute, learn, predicted_and_measured, run
from acoustics.tuning.aims import controls_of, with_controls
from tests.load.tuning_bench import Bench, Task, finished

TASKS = {key: Task.of(key) for key in ("A4", "D5")}


def flutes(count: int, family_mean: dict[str, list[float]], seed: int = 1) -> list[dict[str, Any]]:
    """Finished flutes whose corrections lie around their family's, half as wide as the stated prior."""
    found = []
    for i in range(count):
        family = list(family_mean)[i % len(family_mean)]
        bench = Bench.drawn(TASKS[family], 1000 * seed + i, width=0.25, mean=family_mean[family], room=0.0)
        found.append(finished(bench, f"flute {i + 1}", family))
    return found


def learned(documents: list[dict[str, Any]]) -> Any:
    return learn([FinishedFlute.from_json(d, f"flutes[{i}]") for i, d in enumerate(documents)])


def pitch_offset(shop: dict[str, Any], fingering: str = "xxxxxx", key: str = "A4") -> tuple[float, float]:
    """Cents by which a shop expects a note above the bare model, and the spread of that."""
    task = TASKS[key]
    answers = [
        advise({**Bench.drawn(task, 1, width=0.0, room=0.0).document(), "shop": s, "readings": []})
        for s in (shop, bare())
    ]
    note, plain = (next(n for n in a["notes"] if n["fingering"] == fingering) for a in answers)
    return note["expected_cents"] - plain["expected_cents"], note["sd_cents"]


def bare() -> dict[str, Any]:
    return Prior().to_json()


def test_a_new_shop_starts_from_the_stated_wide_prior() -> None:
    shop = learn([]).shop()
    prior = Prior.from_json(shop)
    assert prior.mean == pytest.approx(np.zeros(4))
    widest = np.sqrt(np.diag(prior.covariance))
    # A flute varies around a shop that is itself unknown: never narrower than what is stated for one flute.
    assert np.all(widest >= np.array([WIDE[name] for name in NAMES]))
    assert prior.flutes == 0


def test_a_shop_object_survives_json() -> None:
    shop = learned(flutes(3, {"A4": [0.2, 0.0, 0.0, 0.0]})).shop("A4")
    assert Prior.from_json(shop).to_json() == shop


def test_thirty_flutes_find_the_mean_that_they_were_drawn_around() -> None:
    mean = [0.3, 0.0, -0.03, 5.0]
    shop = learned(flutes(30, {"A4": mean})).shop("A4")
    offset, sd = pitch_offset(shop)
    truth, _ = pitch_offset({**bare(), "mean": dict(zip(NAMES, mean, strict=True))})
    # Thirty flutes, each scattered by about 4 cents: the mean is known to about one.
    assert offset == pytest.approx(truth, abs=2.5)
    assert sd < 0.6 * pitch_offset(bare())[1]


def test_families_share_what_they_have_in_common_and_keep_what_they_have_not() -> None:
    low, high = [0.4, 0.0, 0.0, 0.0], [-0.2, 0.0, 0.0, 0.0]
    many = flutes(16, {"A4": low, "D5": high})
    shop = learned(many)
    by_family = {name: pitch_offset(shop.shop(name))[0] for name in ("A4", "D5")}
    common = pitch_offset(shop.shop("unknown"))[0]
    assert by_family["A4"] < common < by_family["D5"]
    # One flute of a new family is drawn to the shop's mean, but not all the way.
    single = flutes(1, {"D5": high}, seed=7)
    both = learned([*flutes(12, {"A4": low}), *single])
    alone = learned(single)
    assert pitch_offset(both.shop("A4"))[0] < pitch_offset(both.shop("D5"))[0] < pitch_offset(alone.shop("D5"))[0] + 1.0


def test_an_excluded_flute_teaches_nothing() -> None:
    documents = flutes(6, {"A4": [0.2, 0.0, 0.0, 0.0]})
    wild = finished(Bench.drawn(TASKS["A4"], 99, width=0.0, mean=[1.5, 0.0, 0.0, 20.0], room=0.0), "wild", "A4")
    with_it, without = learned([*documents, wild]).shop("A4"), learned(documents).shop("A4")
    out = learned([*documents, wild | {"excluded": "the block was set wrong"}]).shop("A4")
    assert out == without
    assert out != with_it
    answer = run({"flutes": [*documents[:2], wild | {"excluded": "the block was set wrong"}]})
    assert answer["excluded"] == [{"flute": "wild", "why": "the block was set wrong"}]
    assert {point["flute"] for point in answer["points"]} == {"flute 1", "flute 2"}


def test_predictions_come_nearer_and_no_flute_predicts_itself() -> None:
    documents = [FinishedFlute.from_json(d, "flute") for d in flutes(8, {"A4": [0.4, 0.0, -0.03, 8.0]})]
    points = predicted_and_measured(documents)
    before = np.sqrt(np.mean([(p.measured - p.before) ** 2 for p in points]))
    after = np.sqrt(np.mean([(p.measured - p.after) ** 2 for p in points]))
    assert after < 0.6 * before
    # Change one flute's readings: its own `after` must not move.
    moved = documents[0]
    shifted = [type(r)(r.fingering, r.frequency * 2.0 ** (10.0 / 1200.0), r.instrument, r.air) for r in moved.readings]
    other = predicted_and_measured(
        [FinishedFlute(moved.name, "A4", moved.instrument, moved.air, tuple(shifted)), *documents[1:]]
    )
    own = [(p.after, q.after) for p, q in zip(points, other, strict=True) if p.flute == moved.name]
    for first, second in own:
        # Rates at the flute's own best corrections differ a little; the corrections do not.
        assert second == pytest.approx(first, abs=0.6)


def test_a_single_family_agrees_with_the_textbook_mean_of_normals() -> None:
    """With spreads known, the mean of a normal sample and its standard error (Gelman and others 2013, section 2.5).

    Only the air differs from flute to flute and nothing else is uncertain, so the learned mean of the air must be the
    precision-weighted mean, computed here by hand.
    """
    task = TASKS["A4"]
    tiny = np.diag([1e-8, 1e-10, 1e-10, 8.0**2])
    base = Prior(covariance=tiny, note_sd=1e-3, cut_sd=1e-6)
    air = [3.0, -1.0, 6.0, 4.0]
    documents = []
    for i, cents in enumerate(air):
        bench = Bench(
            task,
            np.array([0.0, 0.0, 0.0, cents]),
            with_controls(task.flute, controls_of(task.flute)),
            rng(i),
            1e-6,
            1e-9,
        )
        documents.append(FinishedFlute.from_json(finished(bench, str(i), "A4"), "flute"))
    found = learn(documents, base)
    n_notes = len(task.fingerings)
    noise = base.reading_sd**2 / n_notes
    spread, between = found.spread[3, 3], found.between[3, 3]
    weight = 1.0 / (spread + noise)
    common_precision = 1.0 / 8.0**2 + 1.0 / (between + 1.0 / (len(air) * weight))
    common = np.mean(air) / (between + 1.0 / (len(air) * weight)) / common_precision
    family = (len(air) * weight * np.mean(air) + common / between) / (len(air) * weight + 1.0 / between)
    assert found.common.mean[3] == pytest.approx(common, abs=0.05)
    assert found.families["A4"].mean[3] == pytest.approx(family, abs=0.05)


def rng(seed: int) -> np.random.Generator:
    return np.random.default_rng(seed)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"readings": [{"fingering": "x", "frequency": 440.0}]}, "flutes[0].readings[0].fingering"),
        ({"family": 3}, "flutes[0].family"),
        ({"wood": "cedar"}, "flutes[0].wood"),
        ({"instrument": {}}, "flutes[0].bore"),
    ],
)
def test_what_cannot_be_is_refused_by_name(change: dict[str, Any], field: str) -> None:
    document = flutes(1, {"A4": [0.0] * 4})[0] | change
    with pytest.raises(InvalidInput) as refused:
        run({"flutes": [document]})
    assert refused.value.field.replace("instrument.", "") == field
