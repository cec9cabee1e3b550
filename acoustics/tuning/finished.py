"""The finished flute as it is predicted: every size cut to where the notes will then be in tune, and how sure that is.

A hole that will be opened later flattens the notes that keep it closed, and a shorter foot raises all: a note is judged
by where it ends, not by where it is now.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from scipy.special import ndtr

from acoustics.belief.heard import Size, sizes_of
from acoustics.belief.posterior import Posterior
from acoustics.belief.sounding import SHAPE, Response, respond, surely
from acoustics.designing.leastsquares import constrained_least_squares
from acoustics.model.implicit import CENTS, Array, Bool, Complex
from acoustics.tuning.aims import Job, farthest, owners

UNDER: Final = 0.15
"""Share of the tolerance by which a note is meant to end below its target: sharp is final, flat is not. If ending
sharp is k times as bad, the best place is s^2 ln(k) / (2 tolerance) under the target of a note known to s (where the
two tails, weighed, are equally high): 0.15 for a third of the tolerance and k = 15."""
SHARPER: Final = 15.0
"""How many times worse it is to end too sharp than too flat: an estimate."""
_DRAWS: Final = 800
FLAT: Final = 0.35
"""Chance of ending too flat from which a note is expected to be cut again."""
_FOLLOWER: Final = 0.2
"""Weight of a note that has no size to itself (a cross fingering) beside one that has."""
_STILL: Final = 0.02
"""Cents for one mm of cut: decides only between plans that are equally in tune."""
_ITERATIONS: Final = 8
_SETTLED: Final = 0.1
"""Cents: the plan is settled when a step moves no note further; what is left is the square of that."""
_LARGE: Final = 6.0
"""Cents: a step of that size leaves an error of a tenth of a cent."""
MOVED: Final = 1e-3
"""mm: less is no cut."""
TUNED: Final = 0.4
"""Share of the tolerance to which a note is tuned in the end, as a standard deviation: an estimate."""


@dataclass(frozen=True)
class Outlook:
    """The predicted finished flute, by what is believed of it.

    `plan` (1 + n,) are the sizes it will have; `now` and `then` its response as it is, already with its outside
    turned, and by the plan; `owner` the note of each control. `ends` (notes,) are expected cents in the finished flute
    by the plan; `kept` if a note's own size stays as it is and all others go by the plan, with `kept_sd`, `kept_rows`
    its rates by everything uncertain and `kept_rest` its variance from what is still to be done. `present` are expected
    cents of the flute as it stands on the bench, `present_rows` their rates by everything uncertain.
    """

    job: Job
    belief: Posterior
    owner: dict[int, int]
    limits: Array
    plan: Array
    now: Response
    then: Response
    now_cents: Array
    ends: Array
    kept: Array
    kept_sd: Array
    kept_rows: Array
    kept_rest: Array
    present: Array
    present_rows: Array

    @cached_property
    def control(self) -> dict[int, int]:
        """The control of each note that has one to itself."""
        return {note: control for control, note in self.owner.items()}

    @cached_property
    def sizes(self) -> tuple[Size, ...]:
        """The controls as they are."""
        return sizes_of(self.job.flute)

    @cached_property
    def moving(self) -> Bool:
        """Which controls the plan still moves (1 + n,)."""
        return np.asarray(np.abs(self.plan - self.job.controls) > MOVED)

    def following(self, note: int) -> list[int]:
        """Notes that will still be tuned after `note`, each by its own control."""
        return following(self.owner, self.moving, self.plan, self.limits, note)

    def when_cut(self, notes: Sequence[int]) -> tuple[Array, Array]:
        """Rates (n, unknowns) of notes in the finished flute by everything uncertain, each with its own control cut by
        the plan, and their variance (n,) from cuts that are still to be made."""
        job, belief, moving = self.job, self.belief, self.moving
        rates = self.then.rates[0]
        every = rows(job, belief, job.fingerings, rates, moving)
        found = [self.once_tuned(note, every[note], rates[note], every, moving) for note in notes]
        return np.array([row for row, _ in found]), np.array([variance for _, variance in found])

    def once_tuned(self, note: int, row: Array, rates: Array, every: Array, moved: Bool) -> tuple[Array, Array]:
        """`once_tuned` for this plan."""
        later = {n: self.control[n] for n in self.following(note)}
        return once_tuned(self.job, self.belief, later, row, rates, every, self.then, moved)

    @cached_property
    def sharp(self) -> Array:
        """Chance (notes,) that a note ends too sharp though its own size stays as it is."""
        return self.above(self.job.tolerance)

    @cached_property
    def flat(self) -> Array:
        """Chance (notes,) that a note ends too flat if its own size stays as it is."""
        return 1.0 - self.above(-self.job.tolerance)

    def above(self, cents: float) -> Array:
        """Chance (notes,) that a note ends above some cents though its own size stays as it is."""
        total = np.zeros(len(self.kept))
        for weight, off, C in self.belief.parts:
            own = np.einsum("ij,jk,ik->i", self.kept_rows, C, self.kept_rows) + self.kept_rest
            total += weight * ndtr((self.kept + self.kept_rows @ off - cents) / np.sqrt(np.maximum(own, 1e-6)))
        return total

    def all_within(self) -> float:
        """Chance that every note with a size of its own ends within the tolerance if nothing more is cut.

        By drawing from what is believed, the same draws each time.
        """
        own = sorted(self.control)
        if not own:
            return 1.0
        rows, rest = self.kept_rows[own], self.kept_rest[own]
        draws = np.random.default_rng(1).standard_normal((_DRAWS, 2 * len(own)))
        total = 0.0
        for weight, off, C in self.belief.parts:
            among = np.linalg.cholesky(rows @ C @ rows.T + 1e-6 * np.eye(len(own)))
            ends = self.kept[own] + rows @ off + draws[:, : len(own)] @ among.T
            ends = ends + draws[:, len(own) :] * np.sqrt(np.maximum(rest, 0.0))
            total += weight * float(np.mean(np.all(np.abs(ends) <= self.job.tolerance, axis=1)))
        return min(total, 1.0)


def look_ahead(job: Job, belief: Posterior, start: Complex, finished: bool = False) -> Outlook:
    """Plan the rest of the work. `start` (notes,) are resonances of the flute as it is, rad/s.

    Of a flute that is `finished` nothing more is cut.
    """
    owner = owners(job.fingerings, len(job.flute.holes))
    limits = farthest(job)
    first = job.controls
    still = np.zeros(len(first), dtype=bool)
    near = surely([job.flute], job.air, job.fingerings, belief.shape, start[None])
    bare = respond([job.flute], job.air, job.fingerings, belief.shape, near)
    now = bare
    if job.finishing.wall:
        here = [job.finished(first)]
        turned = surely(here, job.air, job.fingerings, belief.shape, bare.w)
        now = respond(here, job.air, job.fingerings, belief.shape, turned)
    present = cents(job, belief, bare, still)[0] - job.finishing.cents
    present_rows = rows(job, belief, job.fingerings, bare.rates[0], still)
    plan, then = (first, now) if finished else plan_for(job, belief, owner, limits, now)
    now_cents = cents(job, belief, now, still)[0]
    moving = np.abs(plan - first) > MOVED
    needed = _needed(job, belief, owner, limits, plan, now, then, now_cents, moving)
    if np.any(moving & ~needed):
        drift = then.rates[0][:, SHAPE:] @ np.where(needed, 0.0, first - plan)
        plan = np.where(needed, plan, first)
        guess = Response(then.w * np.exp(drift / CENTS), then.rates)
        plan, then = plan_for(job, belief, owner, limits, guess, needed, plan)
        moving = np.abs(plan - first) > MOVED
    ends = cents(job, belief, then, moving)[0]
    kept, own, rest = _kept(job, belief, owner, limits, plan, now, then, now_cents, moving)
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", own, belief.covariance, own) + rest, 1e-6))
    return Outlook(
        job, belief, owner, limits, plan, now, then, now_cents, ends, kept, sd, own, rest, present, present_rows
    )


def cents(job: Job, belief: Posterior, response: Response, moved: Bool) -> Array:
    """Expected cents above target (n, notes) in the finished flute; sizes that `moved` have no known error."""
    plain = CENTS * np.log(response.frequency / job.frequencies)
    sizes = zip(sizes_of(job.flute), moved, strict=True)
    known = np.array([0.0 if m else belief.mean[belief.unknowns.size(s)] for s, m in sizes])
    own = np.array([belief.mean[belief.unknowns.note(f)] for f in job.fingerings])
    for i, hole in enumerate(job.flute.holes):
        known[i + 1] += belief.mean[belief.unknowns.hole(i + 1)] * hole.diameter
    return np.asarray(plain + belief.mean[SHAPE] + own + response.rates[..., SHAPE:] @ known + job.finishing.cents)


def rows(job: Job, belief: Posterior, fingerings: Sequence[str], rates: Array, moved: Bool) -> Array:
    """Rates (notes, unknowns) of notes by everything uncertain; a size that `moved` is cut again."""
    sizes = sizes_of(job.flute)
    return np.array([belief.unknowns.row(f, r, sizes, moved) for f, r in zip(fingerings, rates, strict=True)])


def following(owner: dict[int, int], moving: Bool, plan: Array, limits: Array, note: int) -> list[int]:
    """Notes other than `note` whose own control is still to be cut, and not as far as it can go."""
    free = moving & (np.abs(plan - limits) > MOVED)
    return [n for control, n in sorted(owner.items()) if free[control] and n != note]


def once_tuned(
    job: Job,
    belief: Posterior,
    later: dict[int, int],
    row: Array,
    rates: Array,
    every: Array,
    then: Response,
    moved: Bool,
) -> tuple[Array, Array]:
    """A note once those that come `later` (note: control) are tuned: its rates (..., unknowns) by everything uncertain,
    and its variance (...) from what is still to be done.

    `row` (..., unknowns) and `rates` (..., 3 + c) are its rates with all sizes as planned; `every` (notes, unknowns)
    and `then` those of all notes by the plan; `moved` the controls that are cut again. Whatever turns out to be true,
    later notes are brought to where they belong, and their sizes end accordingly: if they stand sharper than
    believed, their holes open less, and the note of the closed flute falls less. Each is left off by what it could not
    be tuned nearer, and this note takes a share of that.
    """
    notes, controls = list(later), list(later.values())
    cut = moved.copy()
    cut[controls] = False
    variance = job.finishing.sd**2 + np.sum((rates[..., SHAPE:] * cut * belief.prior.cut_sd) ** 2, axis=-1)
    if not later:
        return row, np.asarray(variance)
    slopes = then.rates[0][:, SHAPE:][np.ix_(notes, controls)]
    own = rates[..., SHAPE:][..., controls]
    share = np.linalg.solve(slopes.T, own.reshape(-1, len(notes)).T).T.reshape(own.shape)
    return np.asarray(row - share @ every[notes]), variance + (TUNED * job.tolerance) ** 2 * np.sum(share**2, axis=-1)


def plan_for(
    job: Job,
    belief: Posterior,
    owner: dict[int, int],
    limits: Array,
    response: Response,
    needed: Bool | None = None,
    begin: Array | None = None,
) -> tuple[Array, Response]:
    """Sizes that bring the notes nearest to a little under their targets, and the response there.

    Only controls that are `needed` move, all with a note of their own if not given. `begin` are sizes to begin with,
    those of the flute as it is if not given, and `response` the response there.
    """
    first = job.controls
    free = np.array([c for c in sorted(owner) if needed is None or needed[c]], dtype=int)
    weights = np.where(np.isin(np.arange(len(job.aims)), list(owner.values())), 1.0, _FOLLOWER)
    goal = -UNDER * job.tolerance
    plan = first.copy() if begin is None else begin.copy()
    if begin is not None:
        response = respond([job.finished(plan)], job.air, job.fingerings, belief.shape, response.w)
    if not len(free):
        return plan, response
    last = 0.0
    for _ in range(_ITERATIONS):
        off = cents(job, belief, response, np.abs(plan - first) > MOVED)[0] - goal
        G = response.rates[0][:, SHAPE:][:, free]
        # What a hole adds to the bore goes rather with the inverse of its diameter: step in that, in mm at its size.
        A = np.vstack([weights[:, None] * G, _STILL * np.eye(len(free))])
        b = np.concatenate([-weights * off, np.zeros(len(free))])
        step = _bounded(A, b, *_room(plan, first, limits, free))
        moves = float(np.max(np.abs(G @ step)))
        if moves < _SETTLED:
            break
        last = moves
        before = plan.copy()
        for i, control in enumerate(free):
            plan[control] = _stepped(before[control], step[i], int(control))
        plan = _within(plan, first, limits)
        guess = response.w * np.exp((response.rates[..., SHAPE:][..., free] @ step) / CENTS)
        response = respond([job.finished(plan)], job.air, job.fingerings, belief.shape, guess)
    # A Newton step leaves an error of the square of its size: one more where the last step was large.
    if last > _LARGE:
        response = respond([job.finished(plan)], job.air, job.fingerings, belief.shape, response.w)
    return plan, response


def _bounded(A: Array, b: Array, low: Array, high: Array) -> Array:
    """The x that minimises |A x - b| between `low` and `high`."""
    free = np.asarray(np.linalg.solve(A.T @ A, A.T @ b), np.float64)
    if np.all((free >= low) & (free <= high)):
        return free
    eye = np.eye(len(low))
    return constrained_least_squares(A, b, np.vstack([eye, -eye]), np.concatenate([low, -high]))


def _stepped(size: float, step: float, control: int) -> float:
    return size + step if control == 0 else size / (1.0 - step / size)


def _within(plan: Array, first: Array, limits: Array) -> Array:
    low = np.concatenate([limits[:1], first[1:]])
    high = np.concatenate([first[:1], limits[1:]])
    return np.clip(plan, low, high)


def _room(plan: Array, first: Array, limits: Array, free: Array) -> tuple[Array, Array]:
    """Least and largest steps, at most a sixth of a hole or a tenth of the foot at a time."""
    low = np.concatenate([limits[:1], first[1:]]) - plan
    high = np.concatenate([first[:1], limits[1:]]) - plan
    share = np.concatenate([[0.1], np.full(len(plan) - 1, 0.17)]) * plan
    return np.maximum(low, -share)[free], np.minimum(high, share)[free]


def _needed(
    job: Job,
    belief: Posterior,
    owner: dict[int, int],
    limits: Array,
    plan: Array,
    now: Response,
    then: Response,
    now_cents: Array,
    moving: Bool,
) -> Bool:
    """Which controls (1 + n,) will really be cut: those whose note would otherwise end too flat.

    A planned cut that is too small to be made must not be counted on. Each cut that falls away
    may make another needed, or no longer so: a few rounds settle it.
    """
    needed = moving.copy()
    for _ in range(4):
        kept, own, rest = _kept(job, belief, owner, limits, plan, now, then, now_cents, needed)
        sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", own, belief.covariance, own) + rest, 1e-6))
        flat = ndtr((-job.tolerance - kept) / sd)
        before = needed
        needed = np.array([bool(m and c in owner and flat[owner[c]] > FLAT) for c, m in enumerate(moving)])
        if np.array_equal(before, needed):
            break
    return needed


def _kept(
    job: Job,
    belief: Posterior,
    owner: dict[int, int],
    limits: Array,
    plan: Array,
    now: Response,
    then: Response,
    now_cents: Array,
    moving: Bool,
) -> tuple[Array, Array, Array]:
    """Where notes end whose own size stays, with the controls that are `moving` cut by the plan; their rates by
    everything uncertain, and their variance from what is still to be done.

    From now, plus what all other sizes do, by the mean of their rates; a size that is cut loses its known error.
    """
    known = np.array([belief.mean[belief.unknowns.size(s)] for s in sizes_of(job.flute)])
    mean_rates = 0.5 * (now.rates[0] + then.rates[0])
    moved = np.tile(moving, (len(job.aims), 1))
    control_of = {note: control for control, note in owner.items()}
    for control, note in owner.items():
        moved[note, control] = False
    change = (plan - job.controls - known) * moved
    kept = now_cents + np.sum(mean_rates[:, SHAPE:] * change, axis=1)
    found = rows(job, belief, job.fingerings, mean_rates, np.zeros_like(moving))
    at = [belief.unknowns.size(s) for s in sizes_of(job.flute)]
    found[:, at] *= ~moved
    every = rows(job, belief, job.fingerings, then.rates[0], moving)
    rest = np.empty(len(job.aims))
    for note in range(len(job.aims)):
        later = {n: control_of[n] for n in following(owner, moving, plan, limits, note)}
        found[note], still = once_tuned(job, belief, later, found[note], mean_rates[note], every, then, moved[note])
        rest[note] = still
    return np.asarray(kept), found, rest
