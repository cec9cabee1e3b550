"""One plain sentence for each piece of advice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from acoustics.tuning.diagnosing import far_off
from acoustics.tuning.elsewhere import UPPER
from acoustics.tuning.finished import Outlook
from acoustics.tuning.next_step import IN_A_ROW, Step

_NOTE: Final = "{note}"


def played(fingering: str) -> str:
    """What to call a fingering: a flute without finger holes has but one note."""
    return fingering or "the bore without holes"


@dataclass(frozen=True, slots=True)
class Why:
    """A sentence about one note: `words` with {note} where it is named."""

    words: str
    fingering: str

    def text(self, name: Callable[[str], str] = played) -> str:
        """The sentence with the note called as `name` calls its fingering."""
        return self.words.format(note=name(self.fingering))

    def __str__(self) -> str:
        return self.text()


def why(outlook: Outlook, step: Step) -> Why:
    """Why this is the next step, for the maker at the bench."""
    if step.why == "in tune":
        return _done(outlook)
    note = step.cut.note if step.cut else step.note or 0
    return Why(_words(outlook, step, note), outlook.job.fingerings[note])


def _words(outlook: Outlook, step: Step, note: int) -> str:
    if step.why == "cut":
        return _cut(outlook, step)
    if step.why == "nothing heard":
        return f"This flute has no reading yet: play {_NOTE} first."
    if step.why == "suspect":
        return _suspect(step)
    if step.why == "strange":
        return _strange(outlook, outlook.job.fingerings[note])
    if step.why == "telling":
        return (
            f"A reading of {_NOTE} helps more than a cut would now: every note still to be cut will be known more "
            "accurately."
        )
    if step.why == "unsure":
        sd = float(outlook.kept_sd[note])
        return (
            f"{_NOTE} is known only to within {sd:.0f} cents: with one more reading the next cut can go closer, or "
            "is not needed."
        )
    if step.why == "in the way":
        return (
            f"{_NOTE} is raised by the next cut and may end too sharp: read it again before anything is cut for "
            "another note."
        )
    if step.why == "never heard":
        return f"{_NOTE} has not been heard yet: play it before anything is cut for it."
    if step.why == "check":
        return f"{_NOTE} has not been read since its size was last changed: play it before calling it done."
    if step.why == "sharp?":
        return (
            f"{_NOTE} seems to end {_off(float(outlook.kept[note]))}: read it again to be sure, since no "
            "cut can correct it."
        )
    if step.why == "doubt":
        return (
            f"No reading of {_NOTE} fits the rest, though it was played {IN_A_ROW} times and more: nothing is cut for "
            "it before that is settled. Check its fingering, whether its holes are free and close well, and the sizes "
            "entered; put right what was wrong, or strike the readings out, and play it again."
        )
    return _lost(outlook, step, note)


def _done(outlook: Outlook) -> Why:
    tolerance, chance = outlook.job.tolerance, in_ten(outlook.all_within())
    off = [note for note in outlook.control if abs(outlook.kept[note]) > tolerance]
    if not off:
        return Why(
            f"Every note is expected within {tolerance:g} cents of its target, and all of them will be {chance}: leave "
            "it as it is. More readings would not change what is done.",
            "",
        )
    worst = max(off, key=lambda note: abs(outlook.kept[note]))
    where = _off(float(outlook.kept[worst]))
    words = f"{_NOTE} ends about {where}, the others closer; a further cut risks more than it would improve."
    return Why(words, outlook.job.fingerings[worst])


def in_ten(chance: float) -> str:
    """A chance in words of ten."""
    if chance < 0.05:
        return "less than once in 20 times"
    if chance >= 0.95:
        return "19 times in 20 or more often"
    times = max(1, min(9, round(10.0 * chance)))
    return "once in 10 times" if times == 1 else f"{times} times in 10"


def _cut(outlook: Outlook, step: Step) -> str:
    cut = step.cut
    assert cut is not None
    later = cut.cents - cut.reads
    now = round(outlook.present[cut.note])
    text = f"{_NOTE} stands at {now:+d} cents and should read about {round(cut.reads):+d} after the cut"
    if abs(later) >= 1.0:
        what = "the cuts to come" if not outlook.job.finishing.wall else "the cuts and the turning to come"
        text += f"; {what} bring it to {round(cut.cents):+d}"
    if float(outlook.plan[cut.control]) != cut.to and cut.cents < -0.3 * outlook.job.tolerance:
        text += "; further would risk ending sharp"
    return text + "."


def _suspect(step: Step) -> str:
    found = step.suspect
    assert found is not None
    if found.fault == "places":
        return (
            f"The readings fit far better if all holes lay {abs(found.size):.0f} % "
            f"{'farther from' if found.size > 0.0 else 'nearer'} the splitting edge than entered: measure the check "
            "bars of the printed strip and the places of the holes from the edge, and put the sizes right, before any "
            f"cut. If they are as entered, play {_NOTE} again."
        )
    if found.fault == "place":
        return (
            f"The readings fit far better if hole {found.hole} lay {abs(found.size):.0f} mm "
            f"{'farther from' if found.size > 0.0 else 'nearer'} the splitting edge than entered: measure hole "
            f"{found.hole} from the edge before any cut. If it is as entered, play {_NOTE} again."
        )
    return (
        "The readings fit far better if the bore leaked before the first hole: draw a wet finger along the joint and "
        f"around the plug, close what leaks, and play {_NOTE} again before any cut."
    )


def _strange(outlook: Outlook, fingering: str) -> str:
    belief = outlook.belief
    which = [i for i, r in enumerate(belief.readings) if r.fingering == fingering and belief.strange[i]]
    off = float(belief.residual[which[-1]])
    text = f"The last reading of {_NOTE} lies {abs(off):.0f} cents {'above' if off > 0 else 'below'}"
    text += " what everything else indicates"
    for interval, name in ((1200.0, "an octave"), (1902.0, "a twelfth"), (-1200.0, "an octave")):
        if abs(off - interval) < 80.0:
            text += f", {name} off"
    alike = [i for i in which if abs(belief.residual[i] - off) < 5.0 * belief.prior.reading_sd]
    every = [float(residual) for residual, strange in zip(belief.residual, belief.strange, strict=True) if strange]
    if len(every) >= 3 and max(every) - min(every) < 60.0 and len(every) == len(belief.readings):
        return (
            f"All {len(every)} readings so far lie about {abs(sum(every) / len(every)):.0f} cents "
            f"{'above' if off > 0 else 'below'} what the sizes entered should give: check the sizes entered, above all "
            f"foot, bore and window, and the fingering, before any cut; then play {_NOTE} again."
        )
    if len(alike) >= 2:
        return text + f", {len(alike)} times now: check the sizes entered, the fingering and the window before any cut."
    return text + ": check the fingering and play it again before any cut."


def _lost(outlook: Outlook, step: Step, note: int) -> str:
    off = far_off(outlook.belief)
    if off is None:
        return _beyond_reach(outlook, step, note)
    return (
        f"All readings together lie about {abs(off):.0f} cents {'above' if off > 0 else 'below'} what the sizes "
        "entered should give: check the sizes entered, above all foot, bore and window, before you give it up. By what "
        f"is entered, {_beyond_reach(outlook, step, note)}"
    )


def _beyond_reach(outlook: Outlook, step: Step, note: int) -> str:
    control = outlook.control[note]
    part = "the foot" if control == 0 else f"hole {control}"
    if step.why == "sharp":
        upper = float(outlook.kept[note] + UPPER * outlook.kept_sd[note])
        text = (
            f"{_NOTE} ends {_off(float(outlook.kept[note]))}, perhaps {upper:.0f}, and nothing lowers it: {part} only "
            f"gets {'shorter' if control == 0 else 'larger'}"
        )
        if control == 0:
            return text + "."
        return (
            text + ". The hole itself can be made smaller: plug it and drill it again, inlay a ring, or lay wax "
            "around its inside; then enter its new size. The other notes are tuned as far as they can be."
        )
    if step.why == "short":
        return f"{_NOTE} stays {_off(float(outlook.ends[note]))} with {part} as far as it can go."
    return (
        f"{_NOTE} stays {_off(float(outlook.kept[note]))}, and the next drill for {part} is too large a step: "
        "open it with a file or reamer instead of a drill."
    )


def _off(cents: float) -> str:
    return f"{abs(cents):.0f} cents {'sharp' if cents > 0 else 'flat'}"
