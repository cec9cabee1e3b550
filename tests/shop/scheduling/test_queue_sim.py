"""The queue, simulated: by hand where it can be, against queueing theory where it can't."""

from datetime import date

import numpy as np
import pytest

from webapp.models import Stage
from webapp.shop.scheduling import past_work
from webapp.shop.scheduling.hindsight import put_off
from webapp.shop.scheduling.queue_dates import quantiles
from webapp.shop.scheduling.queue_parts import DAY, LONGEST, OPENS, Bench, Hands, Job, Piece
from webapp.shop.scheduling.queue_sim import play

STILL = Hands((0.0,) * 6, (0.0,) * 6, (0.0,) * 6)


def bench(hours: float, longest: float | None = None, weekend: bool = True, places: int = 1000) -> Bench:
    """So many hours on every day from a Monday, or on working days only."""
    open_days = np.array([weekend or day % 7 < 5 for day in range(LONGEST)], float)
    return Bench(open_days * hours, open_days * (longest or hours), places=places)


def work(hours: float, wait: float = 0.0, clamps: bool = False, stage: int = 0) -> Piece:
    return Piece(tuple(hours if n == stage else 0.0 for n in range(6)), wait, clamps)


def test_a_line_of_jobs_at_one_bench_by_hand() -> None:
    """10 hours each at 5 hours a working day: two days each, so the third, begun on Friday, ends on Monday."""
    jobs = [Job(str(n), (work(10),)) for n in range(3)]
    days = play(jobs, STILL, bench(5, weekend=False), 2).done
    assert [int(day) for day in days[:, 0]] == [1, 3, 7]
    assert (days[:, 0] == days[:, 1]).all()


def test_a_job_takes_no_more_of_a_day_than_one_person_has() -> None:
    jobs = [Job("one", (work(8),)), Job("two", (work(4),))]
    days = play(jobs, STILL, bench(8, longest=4), 1).done[:, 0]
    assert [int(day) for day in days] == [1, 0]


def test_glue_and_coats_wait_through_the_night_and_others_work_meanwhile() -> None:
    """Glued at once on Monday, cured after 24 h; the other job has the bench until then."""
    jobs = [Job("glued", (work(0.5, 24, True), work(1))), Job("other", (work(12),))]
    days = play(jobs, STILL, bench(8), 1).done[:, 0]
    assert [int(day) for day in days] == [1, 1]
    assert days[0] - (OPENS + DAY * 0.5 / 8) >= 1


def test_clamps_hold_up_what_has_no_place_in_them() -> None:
    jobs = [Job(str(n), (work(0.5, 0, True),)) for n in range(6)]
    assert [int(day) for day in play(jobs, STILL, bench(8, places=2), 1).done[:, 0]] == [0, 0, 1, 1, 2, 2]
    assert play(jobs, STILL, bench(8, places=2), 1, watch=[5]).waited["clamps"] == 2


def test_a_spoilt_flute_is_started_again_as_often_as_the_chance_says() -> None:
    whole = (work(4, stage=0), work(4, stage=4))
    chance = Hands((0.0,) * 6, (0.0,) * 6, (0.0, 0.0, 0.0, 0.0, 0.3, 0.0))
    days = play([Job("one", whole, whole)], chance, bench(4), 4000).done[0]
    assert set(days.astype(int)) == {1, 3}
    assert (days > 2).mean() == pytest.approx(0.3, abs=0.03)


def test_the_same_queue_gives_the_same_dates() -> None:
    some = Hands((0.4,) * 6, (0.1,) * 6, (0.01,) * 6)
    jobs = [Job(str(n), (work(6),), (work(6),)) for n in range(20)]
    one, other = (play(jobs, some, bench(8), 50).done for _ in range(2))
    assert (one == other).all()
    # What stands behind in the queue holds up nothing before it, so it changes no date.
    assert play([*jobs, Job("last", (work(6),))], STILL, bench(8), 5).done[:20] == pytest.approx(
        play(jobs, STILL, bench(8), 5).done
    )


def test_a_run_has_the_same_luck_among_few_and_many_and_wherever_a_job_stands() -> None:
    some = Hands((0.4,) * 6, (0.1,) * 6, (0.05,) * 6)
    jobs = [Job(str(n), (work(6), work(3)), (work(6), work(3))) for n in range(20)]
    week = Bench(bench(8).hours, bench(8).longest, 0.7, 0.3, 0.1)
    many = play(jobs, some, week, 60).done
    assert (play(jobs, some, week, 20).done == many[:, :20]).all()
    # Two jobs that hold nobody up: with their own luck each takes as long first as last.
    alone = [Job("a", (work(6),)), Job("b", (work(6),))]
    there = play(alone, some, bench(100, longest=8), 50).done
    back = play(alone[::-1], some, bench(100, longest=8), 50, luck=[1, 0]).done
    assert back.round(3).tolist() != there.round(3).tolist()
    assert (back[::-1].astype(int) == there.astype(int)).all()


def test_one_bench_is_the_single_server_of_queueing_theory() -> None:
    """Poisson arrivals, equal work, one bench: each wait follows from the one before (Lindley 1952), and their mean is
    load * work / (2 (1 - load)) (Pollaczek-Khinchine; Kleinrock, Queueing Systems I, 1975, eq. 5.63). The play goes by
    days of ten hours, so a wait may be off by part of one."""
    mean, load = 20.0, 0.7
    between = np.random.default_rng(11).exponential(mean / load, 60_000)
    waits = np.zeros(len(between))
    for n in range(1, len(waits)):
        waits[n] = max(0.0, waits[n - 1] + mean - between[n])
    assert waits.mean() == pytest.approx(load * mean / (2 * (1 - load)), rel=0.05)
    at = np.cumsum(between[:250])
    ready = np.floor(at / 10) + OPENS + (at % 10) / 10 * DAY
    jobs = [Job(str(n), (work(mean),), (), float(day)) for n, day in enumerate(ready)]
    done = play(jobs, STILL, bench(10), 1).done[:, 0]
    played = np.floor(done) * 10 + (done - np.floor(done) - OPENS) / DAY * 10 - at - mean
    off = played - waits[:250]
    assert abs(off.mean()) < 2.5
    assert np.abs(off).max() <= 10


def test_dates_hold_as_often_as_they_say() -> None:
    """Another thousand shops of the same kind: the likely date holds in half of them, the safe one in nine of ten."""
    hands = Hands((0.4,) * 6, (0.1,) * 6, (0.02,) * 6)
    whole = (work(3), work(0.5, 24, True, 1), work(6, 12, stage=4), work(1, stage=5))
    jobs = [Job(str(n), whole[n % 3 :], whole) for n in range(25)]
    shop = Bench(*(np.full(LONGEST, h) for h in (8.0, 4.0)), pace=0.8, pace_sd=0.25, pace_unsure=0.1, places=8)
    earliest, likely, safe = quantiles(play(jobs, hands, shop, 1000, 1).done[-1])
    came = play(jobs, hands, shop, 1000, 2).done[-1]
    assert (came <= likely).mean() == pytest.approx(0.5, abs=0.06)
    assert (came <= safe).mean() == pytest.approx(0.9, abs=0.04)
    assert earliest < likely < safe


def test_few_entries_say_little_and_many_say_much() -> None:
    """A normal mean with a normal prior of weight 4: the mean of 4 equal logs lies half way (closed form)."""
    none = past_work.drawn([], 2.0, 0.4)
    assert (none.mean, none.sd, none.count) == (pytest.approx(2.0), pytest.approx(0.4), 0)
    four = past_work.drawn([8.0] * 4, 2.0, 0.4)
    assert 2.0 < four.mean < 8.0 and four.sd > 0.4
    dice = np.random.default_rng(3)
    many = past_work.drawn([float(x) for x in np.exp(dice.normal(1.0, 0.2, 400))], 9.0, 0.4)
    assert many.mean == pytest.approx(np.exp(1.0 + 0.02), rel=0.03)
    assert many.unsure < none.unsure / 10
    assert sum(past_work.HOURS.values()) == pytest.approx(10.5)
    assert set(past_work.HOURS) == set(Stage)


def test_the_safe_date_is_put_off_by_what_the_past_took_longer() -> None:
    taken, likely, safe = date(2026, 1, 1), date(2026, 1, 11), date(2026, 1, 13)
    # Nothing is known yet: the stated orders alone, of whose 20 the 19th holds (37 of 40 under the curve, z = 1.4395,
    # NIST/SEMATECH e-Handbook, table of the normal distribution): exp(1.4395 ln 1.5 / 1.2816) = 1.577 of ten days.
    assert put_off(taken, likely, safe, []) == date(2026, 1, 17)
    assert put_off(taken, likely, safe, [1.0] * 200) == safe
    # Of many orders a tenth took twice the likely time: that is beyond the stated ones, and holds for nine in ten.
    assert put_off(taken, likely, safe, [1.0] * 85 + [2.0] * 15) == date(2026, 1, 21)
    assert put_off(taken, None, None, [2.0] * 30) is None
