from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import truncnorm

from acoustics.belief.corrections import Prior
from acoustics.belief.unheard import model_error
from acoustics.designing.design import Design, DesignRequest, design
from acoustics.designing.tolerance import Tolerances, monte_carlo, sensitivities
from acoustics.errors import InvalidInput
from acoustics.flute.dimensions import dimensions_of, off_by
from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE, Air
from acoustics.model.resonance import resonances

NONE = Tolerances(*([0.0] * 13))


@pytest.fixture(scope="module")
def flute() -> Design:
    return design(DesignRequest.from_json({"key": "A4"}))


def fingerings(flute: Design) -> list[str]:
    return [n.fingering for n in flute.notes]


def pitches(instrument: Instrument, names: list[str], air: Air = PLAYED_FLUTE) -> np.ndarray:
    return resonances(Geometry.of([instrument]), air, names, 1).frequency[0, :, 0]


def cents_between(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return 1200 * np.log2(a / b)


def altered(instrument: Instrument, kind: str, hole: int, by: float) -> Instrument:
    """The same change made by hand on the flute itself."""
    window, body, (plug, foot) = instrument.window, instrument.body, instrument.bore
    holes = list(instrument.holes)
    match kind:
        case "foot":
            return replace(instrument, bore=(plug, (foot[0] + by, foot[1])))
        case "bore":
            return replace(instrument, bore=((plug[0], plug[1] + by), (foot[0], foot[1] + by)))
        case "stub":
            return replace(instrument, bore=((plug[0] - by, plug[1]), foot))
        case "wall":
            return replace(instrument, body=replace(body, wall=body.wall + by))
        case "hole position":
            holes[hole - 1] = replace(holes[hole - 1], x=holes[hole - 1].x + by)
            return instrument.with_holes(holes)
        case "hole diameter":
            holes[hole - 1] = replace(holes[hole - 1], diameter=holes[hole - 1].diameter + by)
            return instrument.with_holes(holes)
        case "block setback":
            assert instrument.block is not None
            return replace(instrument, block=replace(instrument.block, setback=instrument.block.setback + by))
        case _:
            part = {
                "window length": "length",
                "window width": "width",
                "window wall": "wall",
                "edge angle": "edge_angle",
                "edge height": "edge_height",
            }
            name = part[kind]
            return replace(instrument, window=replace(window, **{name: getattr(window, name) + by}))


def test_sensitivities_agree_with_flutes_changed_by_hand(flute: Design) -> None:
    names = fingerings(flute)
    table = sensitivities(flute.instrument, PLAYED_FLUTE, names)
    assert len(table.dimensions) == 10 + 12
    for dimension, row in zip(table.dimensions, table.cents, strict=True):
        step = 0.02
        up = pitches(altered(flute.instrument, dimension.kind, dimension.hole, step), names)
        down = pitches(altered(flute.instrument, dimension.kind, dimension.hole, -step), names)
        unit = 1.0 if dimension.unit == "degrees" else 0.1
        assert row == pytest.approx(cents_between(up, down) * unit / (2 * step), abs=3e-3), dimension.name


def test_temperature_goes_with_the_air(flute: Design) -> None:
    names = fingerings(flute)
    table = sensitivities(flute.instrument, PLAYED_FLUTE, names)
    warm, cold = (pitches(flute.instrument, names, Air.moist(temperature=t, relative_humidity=0)) for t in (25, 23))
    assert table.temperature == pytest.approx(cents_between(warm, cold) / 2, abs=0.1)


def test_a_wall_of_its_own_stays_when_the_body_is_turned(flute: Design) -> None:
    holes = [replace(h, wall=4.0) for h in flute.instrument.holes]
    instrument = flute.instrument.with_holes(holes)
    dimensions = dimensions_of(instrument)
    wall = [d.kind for d in dimensions].index("wall")
    off = np.zeros((1, len(dimensions)))
    off[0, wall] = 0.5
    moved = off_by(instrument, dimensions, off)
    assert moved.wall[0] == pytest.approx(1e-3 * (instrument.body.wall + 0.5))
    assert moved.hole_wall[0] == pytest.approx(np.full(6, 4e-3))


def test_the_spread_is_that_of_the_sum_of_small_deviations(flute: Design) -> None:
    # For small independent deviations variances add; a normal cut at three sd keeps scipy's truncnorm variance.
    targets = {n.fingering: n.target for n in flute.notes}
    shop = Tolerances()
    spread = monte_carlo(flute.instrument, PLAYED_FLUTE, targets, shop, flutes=4000)
    table = sensitivities(flute.instrument, PLAYED_FLUTE, list(targets))
    kept = truncnorm.var(-3, 3)
    for i, note in enumerate(spread.notes):
        parts = [
            row[i] * shop.of(d) / (1.0 if d.unit == "degrees" else 0.1)
            for d, row in zip(table.dimensions, table.cents, strict=True)
        ]
        sd = np.sqrt(kept * (np.sum(np.square(parts)) + (shop.temperature * table.temperature[i]) ** 2))
        assert note.sd == pytest.approx(sd, rel=0.05)
        assert note.mean == pytest.approx(0.0, abs=0.6)
        assert note.low < note.mean < note.high
    assert sum(share for _, share in spread.care) == pytest.approx(1.0)


def test_every_flute_is_solved_and_not_only_estimated(flute: Design) -> None:
    # Three times the usual spread in holes alone: the mean moves by what is not linear, and so must the answer.
    names = fingerings(flute)
    shop = replace(NONE, hole_diameter=0.6)
    targets = {n.fingering: n.target for n in flute.notes}
    spread = monte_carlo(flute.instrument, PLAYED_FLUTE, targets, shop, flutes=400, seed=5)
    rng = np.random.default_rng(5)
    dimensions = dimensions_of(flute.instrument)
    found = []
    for size in (250, 150):
        normal = np.clip(rng.standard_normal((size, len(dimensions) + 1)), -3, 3)
        off = normal[:, :-1] * np.array([shop.of(d) for d in dimensions])
        exact = resonances(off_by(flute.instrument, dimensions, off), PLAYED_FLUTE, names, 1).frequency[..., 0]
        found.append(cents_between(exact, np.array(list(targets.values()))))
    mean = np.mean(np.concatenate(found), axis=0)
    assert [n.mean for n in spread.notes] == pytest.approx(mean, abs=0.1)
    assert min(mean) < -0.5


def test_perfect_hands_make_the_design(flute: Design) -> None:
    targets = {n.fingering: n.target for n in flute.notes}
    spread = monte_carlo(flute.instrument, PLAYED_FLUTE, targets, NONE, flutes=50)
    assert spread.all_within == 1.0
    for note, designed in zip(spread.notes, flute.notes, strict=True):
        assert note.sd == pytest.approx(0.0, abs=1e-9)
        assert note.mean == pytest.approx(designed.cents, abs=1e-3)


def test_what_the_model_leaves_open_comes_on_top_of_the_hand(flute: Design) -> None:
    """Without any error of the hand, flutes scatter as the model is unsure: about a mean, with all notes together."""
    targets = {n.fingering: n.target for n in flute.notes}
    mean, covariance = model_error(flute.instrument, PLAYED_FLUTE, targets, Prior())
    found = monte_carlo(flute.instrument, PLAYED_FLUTE, targets, NONE, 4000, unknown=(mean, covariance))
    plain = monte_carlo(flute.instrument, PLAYED_FLUTE, targets, NONE, 10)
    for i, (note, bare) in enumerate(zip(found.notes, plain.notes, strict=True)):
        assert note.sd == pytest.approx(np.sqrt(covariance[i, i]), rel=0.05)
        assert note.mean == pytest.approx(bare.mean + mean[i], abs=0.6)
    assert found.all_within < 0.3 < plain.all_within


def test_a_shop_that_knows_its_breath_and_window_is_less_unsure(flute: Design) -> None:
    targets = {n.fingering: n.target for n in flute.notes}
    knows = Prior(mean=np.array([0.0, 0.0, 0.0, 6.0]), covariance=Prior().covariance / 25.0, note_sd=1.0)
    wide, narrow = (model_error(flute.instrument, PLAYED_FLUTE, targets, prior) for prior in (Prior(), knows))
    assert narrow[0] == pytest.approx(wide[0] + 6.0, abs=0.01)
    assert np.all(np.diag(narrow[1]) < 0.5 * np.diag(wide[1]))
    # 8 cents of breath, stated, and 0.3 bore radii of window are in it.
    assert np.all(np.sqrt(np.diag(wide[1])) > 8.0)


def test_the_same_seed_gives_the_same_flutes_and_progress_is_told(flute: Design) -> None:
    targets = {n.fingering: n.target for n in flute.notes}
    steps: list[tuple[int, int]] = []
    one = monte_carlo(flute.instrument, PLAYED_FLUTE, targets, flutes=600, progress=lambda d, n: steps.append((d, n)))
    two = monte_carlo(flute.instrument, PLAYED_FLUTE, targets, flutes=600)
    other = monte_carlo(flute.instrument, PLAYED_FLUTE, targets, flutes=600, seed=2)
    assert one == two
    assert one != other
    assert steps == [(250, 600), (500, 600), (600, 600)]
    assert set(one.to_json()) == {"flutes", "tolerance", "notes", "all_within", "care"}


@pytest.mark.parametrize(
    ("document", "field"),
    [
        ({"thumb": 1}, "tolerances.thumb"),
        ({"foot": -1}, "tolerances.foot"),
        ({"bore": float("nan")}, "tolerances.bore"),
        ([], "tolerances"),
    ],
)
def test_tolerances_that_cannot_be_are_refused(document: object, field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        Tolerances.from_json(document)
    assert caught.value.field == field


def test_tolerances_round_trip() -> None:
    shop = Tolerances.from_json({"bore": 0.02})
    assert shop.bore == 0.02
    assert Tolerances.from_json(shop.to_json()) == shop
