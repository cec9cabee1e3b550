"""The shop's queue, simulated many times: who gets the bench, who waits for clamps, glue and finish, until when.

Time goes on in days from the start (day 0, midnight). On each day the hours at the bench go to the jobs in the order of
the queue; no job takes more of a day than one person has. Between its pieces of work a job waits for glue or finish,
on nights and closed days too. All runs are calculated side by side, job by job, so that a year of a full rack takes
less than a second. The same seed gives the same dates, and a run draws the same luck however many others there are: two
queues are compared run by run, which tells them apart in fewer runs (common random numbers: Law, Simulation Modeling
and Analysis, 5th ed., 2015, section 11.2; from memory).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from webapp.shop.scheduling.queue_parts import DAY, ENOUGH, LONGEST, OPENS, Bench, Hands, Job

Floats = NDArray[np.float32]
_Number = TypeVar("_Number", np.float32, np.int32)

BLOCK: Final = 16
_TINY: Final = 1e-4


@dataclass(slots=True)
class Played:
    """When each job was finished in each run [days from the start; infinite: not within four years], and on how many
    working days, on average, the watched jobs waited for a hand and for clamps."""

    done: Floats
    waited: dict[str, float] = field(default_factory=dict)


def play(
    jobs: Sequence[Job],
    hands: Hands,
    bench: Bench,
    runs: int,
    seed: int = 1,
    watch: Sequence[int] = (),
    progress: Callable[[int, int], None] | None = None,
    luck: Sequence[int] | None = None,
) -> Played:
    """Simulate the queue; `jobs` in the order in which they get the bench. `progress` gets (jobs done, jobs).

    `luck`: whose luck each job has, where the same jobs stand in another order than in the run it is compared with.
    """
    if not jobs:
        return Played(np.zeros((0, runs), np.float32))
    return _Play(jobs, hands, bench, runs, seed, watch, luck).through(progress)


class _Play:
    """One simulation. Arrays have the shape (jobs, runs)."""

    def __init__(
        self,
        jobs: Sequence[Job],
        hands: Hands,
        bench: Bench,
        runs: int,
        seed: int,
        watch: Sequence[int],
        luck: Sequence[int] | None,
    ) -> None:
        self.bench, self.runs, self.watch = bench, runs, list(watch)
        self.luck = np.arange(len(jobs)) if luck is None else np.asarray(luck)
        # One stream of luck for each purpose, drawn run by run.
        own, stage, spoiling, self.pace, self.week = np.random.default_rng(seed).spawn(5)
        chains = [(*job.left, *(job.whole or ())) for job in jobs]
        self.most = max(len(chain) for chain in chains)
        count = len(jobs)
        stages = len(hands.sd)
        share = np.zeros((count, self.most, stages), np.float32)
        self.wait = np.zeros((count, self.most), np.float32)
        self.clamps = np.zeros((count, self.most), bool)
        for j, chain in enumerate(chains):
            for p, piece in enumerate(chain):
                share[j, p] = piece.hours
                self.wait[j, p] = piece.wait / 24
                self.clamps[j, p] = piece.clamps
        self.share = share
        self.of_left = np.array([len(job.left) for job in jobs])
        self.of_chain = np.array([len(chain) for chain in chains])
        self.factor = self._factors(hands, count, own, stage)
        self.at = np.zeros((count, runs), np.int16)
        self.free = np.repeat(np.array([job.ready for job in jobs], np.float32)[:, None], runs, axis=1)
        self.left = self._effort(np.arange(count)[:, None], self.at)
        self.done = np.full((count, runs), np.inf, np.float32)
        nothing = self.of_left == 0
        self.done[nothing] = self.free[nothing]
        # Who is finished is free no more.
        self.free[nothing] = np.inf
        self.gluing = np.repeat((self.clamps[:, 0] & ~nothing)[:, None], runs, axis=1)
        self.again = self._spoilings(hands, jobs, spoiling)
        self.waited = {"hands": 0.0, "clamps": 0.0}

    def _factors(self, hands: Hands, count: int, own: np.random.Generator, stage: np.random.Generator) -> Floats:
        """How much longer than usual each job's work at each stage takes (jobs, stages, runs); the mean is 1."""
        sd = np.asarray(hands.sd, np.float32)
        unsure = np.asarray(hands.unsure, np.float32)
        found = own.standard_normal((self.runs, count, len(sd)), np.float32)[:, self.luck] * sd - sd**2 / 2
        found += (stage.standard_normal((self.runs, len(sd)), np.float32) * unsure - unsure**2 / 2)[:, None]
        return np.ascontiguousarray(np.exp(found).transpose(1, 2, 0))

    def _effort(self, jobs: NDArray[np.intp], pieces: NDArray[np.int16]) -> Floats:
        """Hours of these jobs' pieces in all runs."""
        run = np.arange(self.runs)[None, :]
        found = np.zeros(pieces.shape, np.float32)
        for stage in range(self.share.shape[2]):
            found += self.share[jobs, pieces, stage] * self.factor[jobs, stage, run]
        return found

    def _effort_at(self, job: NDArray[np.intp], piece: NDArray[np.intp], run: NDArray[np.intp]) -> Floats:
        hours: Floats = (self.share[job, piece] * self.factor[job, :, run]).sum(axis=1)
        return hours

    def _spoilings(self, hands: Hands, jobs: Sequence[Job], dice: np.random.Generator) -> NDArray[np.int16]:
        """After which piece each job is spoilt, once at most (jobs, runs); -1: it is not."""
        chance = np.asarray(hands.spoilt)
        longest = max(1, max(len(job.left) for job in jobs))
        odds = np.zeros((len(jobs), longest), np.float32)
        for j, job in enumerate(jobs):
            if job.whole and job.left:
                worked = np.array([piece.hours for piece in job.left]) > 0
                odds[j, : len(worked)] = 1 - np.where(worked, 1 - chance, 1.0).prod(axis=1)
        hit = dice.random((self.runs, len(jobs), longest), np.float32)[:, self.luck] < odds
        found = np.where(hit.any(axis=2), hit.argmax(axis=2), -1).astype(np.int16).T
        # A flute that is spoilt goes through the whole of its chain again.
        self.end = np.where(found >= 0, self.of_chain[:, None], self.of_left[:, None]).astype(np.int16)
        return np.ascontiguousarray(found)

    def through(self, progress: Callable[[int, int], None] | None) -> Played:
        count = len(self.of_left)
        open_runs = np.isinf(self.done).sum(axis=1)
        first = 0
        pace = self.bench.pace
        unsure, sd = self.bench.pace_unsure, self.bench.pace_sd
        shared = np.exp(self.pace.standard_normal(self.runs) * unsure - unsure**2 / 2)
        weeks = np.exp(self.week.standard_normal((self.runs, LONGEST // 7 + 2)) * sd - sd**2 / 2).T.copy()
        for day in range(LONGEST):
            hours = float(self.bench.hours[day])
            if hours <= 0:
                continue
            while first < count and open_runs[first] == 0:
                first += 1
            if first == count:
                break
            if progress:
                progress(first, count)
            longest = float(self.bench.longest[day])
            weekly = weeks[(day + self.bench.weekday) // 7]
            self._day(day, (hours * pace * shared * weekly).astype(np.float32), longest, first, open_runs)
        waited = {name: days / max(1, len(self.watch) * self.runs) for name, days in self.waited.items()}
        return Played(self.done, waited)

    def _day(self, day: int, hours: Floats, longest: float, first: int, open_runs: NDArray[np.intp]) -> None:
        """One working day: its hours go down the queue until none are left."""
        count = len(self.of_left)
        rest = hours.copy()
        places = np.full(self.runs, self.bench.places, np.int32)
        for low in range(first, count, BLOCK):
            if low > first and float(rest.max()) <= _TINY:
                self._note_waits(day, low, count)
                break
            block = slice(low, min(low + BLOCK, count))
            if not open_runs[block].any():
                continue
            rest = self._block(day, block, hours, rest, places, longest, open_runs)

    def _block(
        self,
        day: int,
        block: slice,
        hours: Floats,
        rest: Floats,
        places: NDArray[np.int32],
        longest: float,
        open_runs: NDArray[np.intp],
    ) -> Floats:
        left, free = self.left[block], self.free[block]
        part = np.float32(day + OPENS + DAY) - free
        part *= np.float32(1 / DAY)
        np.maximum(part, 0, out=part)
        np.minimum(part, 1, out=part)
        able = part > 0
        if not able.any():
            return rest
        want = np.minimum(left, part * np.float32(longest))
        barred = self._barred(block, able, places)
        if barred is not None:
            want[barred] = 0
            able &= ~barred
        before = _sums_before(want)
        ahead = rest[None, :] - before
        got = np.minimum(np.maximum(ahead, 0), want)
        left -= got
        # Work that takes no time is done as soon as it is reached and somebody is still at the bench.
        over = able & (left <= _TINY) & ((got > 0) | (ahead > _TINY))
        self._count_waits(block, part, got, barred)
        at = np.flatnonzero(over)
        if len(at):
            rows, runs = np.divmod(at, self.runs)
            used = (hours - rest)[runs] + before.ravel()[at] + got.ravel()[at]
            share = used / np.maximum(hours[runs], _TINY)
            # Nobody is finished before what they waited for was over.
            moment = np.maximum(day + OPENS + DAY * share, np.maximum(free[rows, runs], day + OPENS))
            self._move_on(rows + block.start, runs, moment.astype(np.float32), places, open_runs)
        return np.asarray(rest - got.sum(axis=0), np.float32)

    def _barred(self, block: slice, able: NDArray[np.bool_], places: NDArray[np.int32]) -> NDArray[np.bool_] | None:
        """Whose piece at hand would take a place in the clamps that is not there today; None where nobody's does."""
        if self.bench.places >= ENOUGH:
            return None
        asks = self.gluing[block] & able
        if (asks.sum(axis=0, dtype=np.int32) <= places).all():
            return None
        return asks & (_sums_before(asks.astype(np.int32)) >= places[None, :])

    def _move_on(
        self,
        job: NDArray[np.intp],
        run: NDArray[np.intp],
        moment: Floats,
        places: NDArray[np.int32],
        open_runs: NDArray[np.intp],
    ) -> None:
        """These jobs' pieces are finished in these runs: the wait begins, the next piece is at hand."""
        piece = self.at[job, run]
        wait = self.wait[job, piece]
        glued = self.clamps[job, piece]
        if glued.any():
            places -= np.bincount(run[glued], minlength=self.runs).astype(np.int32)
        spoilt = self.again[job, run] == piece
        after = np.where(spoilt, self.of_left[job], piece + 1).astype(np.int16)
        self.at[job, run] = after
        free = moment + np.where(spoilt, np.float32(0), wait)
        done = after >= self.end[job, run]
        self.done[job[done], run[done]] = free[done]
        free[done] = np.inf
        self.free[job, run] = free
        open_runs -= np.bincount(job[done], minlength=len(open_runs))
        going = ~done
        job, run, then = job[going], run[going], after[going].astype(np.intp)
        self.left[job, run] = self._effort_at(job, then, run)
        self.gluing[job, run] = self.clamps[job, then]

    def _count_waits(self, block: slice, part: Floats, got: Floats, barred: NDArray[np.bool_] | None) -> None:
        for j in self.watch:
            if block.start <= j < block.stop:
                row = j - block.start
                able = part[row] > 0
                if barred is not None:
                    self.waited["clamps"] += float(barred[row].sum())
                    able = able & ~barred[row]
                self.waited["hands"] += float((able & (got[row] <= 0)).sum())

    def _note_waits(self, day: int, low: int, count: int) -> None:
        for j in self.watch:
            if low <= j < count:
                self.waited["hands"] += float((self.free[j] < day + OPENS + DAY).sum())


def _sums_before(rows: NDArray[_Number]) -> NDArray[_Number]:
    """For each row the sum of those before it. Row by row: numpy's own running sum goes down each column by itself."""
    found = np.zeros_like(rows)
    for n in range(1, len(rows)):
        np.add(found[n - 1], rows[n - 1], out=found[n])
    return found
