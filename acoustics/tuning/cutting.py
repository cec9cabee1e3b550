"""The next cut of one size: how far, and at what risk.

A cut goes to where least is expected to be lost in the end (`worth`), as far as the risk that the maker allows lets it,
and never takes less than the smallest cut that is worth making.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.special import ndtr

from acoustics.belief.corrections import SLIP_SD
from acoustics.belief.sounding import SHAPE, respond
from acoustics.model.implicit import CENTS, Array
from acoustics.tuning.finished import MOVED, SHARPER, Outlook, rows
from acoustics.tuning.worth import MISSES, SLIPS_AT, Worth

_NODES: Final = 5
"""Sizes between now and the plan for which the note is worked out; in between it is interpolated."""
_NEAR: Final = 2e-3
"""Share of itself by which a Newton step may move a note and still leave less than a tenth of a cent."""
LOST: Final = 0.5
"""Chance of ending too sharp from which a note is no longer considered when others are cut."""
OWED: Final = 0.3
"""How far a cut must lessen the chance of ending too flat before it may endanger other notes."""
FURTHER: Final = 3.0
"""Cents beyond the plan that a size may go: what is planned is only what is believed."""


@dataclass(frozen=True)
class Cut:
    """One possible cut: of `control` to `to` mm, for `note`. Cents are those of the finished flute with this cut made
    and all else by the plan; `reads` those right after the cut, `risk` the chance that this note ends too sharp, or
    that another does that would not without the cut; `flat` the chance that it ends too flat."""

    control: int
    note: int
    start: float
    to: float
    cents: float
    sd: float
    reads: float
    risk: float
    flat: float


class Curve:
    """What cutting one control does: its note and the risk at any size between now and the plan."""

    def __init__(self, outlook: Outlook, control: int) -> None:
        job, belief = outlook.job, outlook.belief
        self.outlook, self.control = outlook, control
        self.note = outlook.owner[control]
        self.start, self.end = float(job.controls[control]), float(outlook.plan[control])
        self.end = self._a_little_further()
        if control and job.drills is not None:
            # No drill is as wide as the plan: the next one up may end nearer to it than the last one below.
            wider = [d for d in job.drills if self.end - 1e-6 <= d <= outlook.limits[control] + 1e-6]
            self.end = min(wider, default=self.end)
        self._lay_out()
        moved = outlook.moving.copy()
        moved[control] = True
        sizes = np.tile(outlook.plan, (_NODES, 1))
        sizes[:, control] = self.nodes
        flutes = [job.finished(size) for size in sizes]
        fingering = job.fingerings[self.note]
        w0, w1 = outlook.now.w[0, self.note], outlook.then.w[0, self.note]
        # Between the two ends, where all others are by the plan already, the note goes nearly as its own size does.
        kept = w1 * np.exp((outlook.kept[self.note] - outlook.ends[self.note]) / CENTS)
        start = np.linspace(kept.real, w1.real, _NODES) * (1.0 + 1j * w0.imag / w0.real)
        start = start[:, None]
        found = respond(flutes, job.air, [fingering], belief.shape, start)
        if np.max(np.abs(found.w.real / start.real - 1.0)) > _NEAR:
            found = respond(flutes, job.air, [fingering], belief.shape, found.w)
        target = job.frequencies[self.note]
        known = [0.0 if m else belief.mean[belief.unknowns.size(s)] for s, m in zip(outlook.sizes, moved, strict=True)]
        for i, hole in enumerate(job.flute.holes):
            known[i + 1] += belief.mean[belief.unknowns.hole(i + 1)] * hole.diameter
        plain = CENTS * np.log(found.frequency[:, 0] / target) + found.rates[:, 0, SHAPE:] @ np.array(known)
        offset = belief.mean[SHAPE] + belief.mean[belief.unknowns.note(fingering)] + job.finishing.cents
        rates = found.rates[:, 0]
        own = rows(job, belief, [fingering] * _NODES, rates, moved)
        every = rows(job, belief, job.fingerings, outlook.then.rates[0], moved)
        own, cut_variance = outlook.once_tuned(self.note, own, rates, every, moved)
        columns = [plain + offset, cut_variance, rates[:, SHAPE + control]]
        self._between = PchipInterpolator(self._along(self.nodes), np.column_stack([*columns, own]), axis=0)

    def _a_little_further(self) -> float:
        """The end of the curve: beyond the plan, and at least one cut that can be made."""
        outlook, control = self.outlook, self.control
        slope = abs(float(outlook.then.rates[0][self.note, SHAPE + control])) or 1.0
        more = max(FURTHER / slope, self.outlook.job.smallest)
        limit = float(outlook.limits[control])
        return max(limit, self.end - more) if control == 0 else min(limit, self.end + more)

    def _lay_out(self) -> None:
        part = np.linspace(0.0, 1.0, _NODES)
        if self.control == 0:
            self.nodes = self.start + part * (self.end - self.start)
        else:
            self.nodes = 1.0 / (1.0 / self.start + part * (1.0 / self.end - 1.0 / self.start))
        self.nodes[-1] = self.end

    def _along(self, size: Array) -> Array:
        """Goes up from now to the plan; for a hole with the inverse of its diameter, as the note nearly does."""
        return -size if self.control == 0 else -1.0 / size

    def cents(self, sizes: Array) -> Array:
        """Expected cents in the finished flute."""
        found = self._at(sizes)
        return np.asarray(found[:, 0] + found[:, 2] * self._never_back(sizes))

    def _at(self, sizes: Array) -> Array:
        """Cents of a cut as meant, variance from cuts, rate by its own size, rates by everything uncertain."""
        return np.asarray(self._between(self._along(sizes)))

    def _never_back(self, sizes: Array) -> Array:
        """Mean error (mm) of a cut to a size that the control may have passed already, and never goes back from.

        The larger of two normals (Clark 1961, Oper. Res. 9, 145, eq. 2): the cut meant to a size, and what is there.
        """
        belief = self.outlook.belief
        at = belief.unknowns.size(self.outlook.sizes[self.control])
        sign = -1.0 if self.control == 0 else 1.0
        there = sign * (belief.mean[at] + self.start - sizes)
        spread = math.sqrt(belief.prior.cut_sd**2 + belief.covariance[at, at]) or 1e-12
        a = -there / spread
        return np.asarray(sign * (there * ndtr(-a) + spread * np.exp(-0.5 * a**2) / math.sqrt(2.0 * math.pi)))

    def sd(self, sizes: Array, covariance: Array | None = None) -> Array:
        """Standard deviation of the same."""
        at = self._at(sizes)
        found = at[:, 3:]
        C = self.outlook.belief.covariance if covariance is None else covariance
        variance = np.einsum("ij,ij->i", found @ C, found) + at[:, 1] + self._missed(self.cents(sizes))
        return np.asarray(np.sqrt(np.maximum(variance, 1e-6)))

    def _own_risk(self, sizes: Array) -> Array:
        """Summed over what the belief is mixed from, and over a cut that slips: how wide what has no name spreads is
        not known, and a mixture reaches farther out than one normal of the same spread."""
        belief, job = self.outlook.belief, self.outlook.job
        mean, at = self.cents(sizes), self._at(sizes)
        found, missed = at[:, 3:], at[:, 1] + self._missed(mean)
        slope = np.abs(at[:, 2])
        slips = [(1.0 - belief.prior.slip, 0.0), *((belief.prior.slip / len(SLIPS_AT), off) for off in SLIPS_AT)]
        total = np.zeros(len(sizes))
        for weight, off, covariance in belief.parts:
            own = np.sqrt(np.einsum("ij,ij->i", found @ covariance, found) + missed)
            for chance, far in slips:
                ends = mean + found @ off + far * SLIP_SD * slope
                total += weight * chance * ndtr((ends - job.tolerance) / own)
        return total

    def _missed(self, mean: Array) -> Array:
        return np.asarray((MISSES * (mean - self.outlook.kept[self.note])) ** 2)

    def _others_risk(self, sizes: Array) -> Array:
        return np.asarray(np.sum(list(self._others(sizes).values()), axis=0) if self._raised else np.zeros(len(sizes)))

    @cached_property
    def _raised(self) -> tuple[int, ...]:
        """Notes that the cut raises, and whose own control stays."""
        outlook = self.outlook
        rise = outlook.then.rates[0][:, SHAPE + self.control] * (self.end - self.start)
        return tuple(note for note, control in outlook.control.items() if control != self.control and rise[note] > 0.0)

    def _others(self, sizes: Array) -> dict[int, Array]:
        """What the cut adds to the chance that another note ends too sharp; one that is lost anyway counts no more."""
        outlook = self.outlook
        found = {}
        for note in self._raised:
            rate = outlook.then.rates[0][note, SHAPE + self.control]
            at_end, sd = outlook.kept[note] - outlook.job.tolerance, outlook.kept_sd[note]
            before = float(ndtr((at_end + rate * (self.start - self.end)) / sd))
            after = ndtr((at_end + rate * (sizes - self.end)) / sd)
            found[note] = np.maximum(after - before, 0.0) * (before < LOST)
        return found

    def _owed(self, sizes: Array) -> Array:
        """What a cut may risk of other notes because its own would otherwise certainly end too flat.

        A hole that is still far too narrow has to be opened, though another note was cut a little far in view of it.
        """
        mean, sd = self.cents(sizes), self.sd(sizes)
        tolerance = self.outlook.job.tolerance
        mended = self.outlook.flat[self.note] - ndtr((-tolerance - mean) / sd)
        return np.asarray(np.maximum(mended - OWED, 0.0) / SHARPER)

    def in_the_way(self, share: float, size: float) -> int | None:
        """The note that a cut to `size` mm endangers most, where that is more than `share`."""
        risks = {note: float(risk[0]) for note, risk in self._others(np.array([size])).items()}
        worst = max(risks, key=lambda note: risks[note], default=None)
        return worst if worst is not None and risks[worst] > share else None

    def sizes(self) -> Array:
        """Sizes that can be told, from the smallest cut on: steps of the rule or the callipers, or the drills."""
        job = self.outlook.job
        least = max(job.smallest, MOVED) - 1e-6
        if self.control and job.drills is not None:
            within = (d for d in job.drills if self.start + least <= d <= self.end + 1e-6)
            return np.array(sorted(within))
        step = job.steps[0] if self.control == 0 else job.steps[1]
        if self.control == 0:
            count = np.arange(np.floor((self.start - least) / step), np.ceil(self.end / step - 1e-6) - 1, -1)
        else:
            count = np.arange(np.ceil((self.start + least) / step), np.floor(self.end / step + 1e-6) + 1)
        sizes = np.round(count * step, 6)
        taken = np.abs(sizes - self.start)
        sizes = sizes[taken >= least]
        # Of hundreds of sizes far from the end it makes no difference which: every so many will do.
        return sizes[:: max(1, len(sizes) // 300)] if len(sizes) > 600 else sizes

    def best(self, worth: Worth, risk: float) -> tuple[Cut, float] | None:
        """The cut after which least is expected to be lost, with the minutes of that; None where none is allowed."""
        sizes = self.sizes()
        if not len(sizes):
            return None
        own, others = self._own_risk(sizes), self._others_risk(sizes)
        minutes = worth.cut(self.cents(sizes), self.sd(sizes))
        minutes = minutes + worth.work.sharp * np.maximum(others - self._owed(sizes), 0.0)
        allowed = own + np.maximum(others - self._owed(sizes), 0.0) <= risk
        if not allowed.any():
            return None
        i = int(np.argmin(np.where(allowed, minutes, np.inf)))
        return self.cut(float(sizes[i]), float(min(own[i] + others[i], 1.0))), float(minutes[i])

    def cut(self, to: float, risk: float) -> Cut:
        """The cut to a size."""
        outlook = self.outlook
        at = np.array([to])
        mean, sd = float(self.cents(at)[0]), float(self.sd(at)[0])
        rise = mean - float(outlook.kept[self.note])
        flat = float(ndtr((-outlook.job.tolerance - mean) / sd))
        reads = float(outlook.present[self.note]) + rise
        return Cut(self.control, self.note, self.start, to, mean, sd, reads, risk, flat)
