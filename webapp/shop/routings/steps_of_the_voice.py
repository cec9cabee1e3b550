"""Flue, voicing, tuning, finishing: from a closed blank to a flute. All of it common practice, no published source."""

from webapp.models import Measure, Stage, StepKind
from webapp.shop.routings import cautions
from webapp.shop.routings.step_plan import EACH_HOLE, FIXED, FOOT_HOLES, Size, Step

FLUE = [
    Step(
        Stage.FLUE,
        "flue-marked",
        "Flue marked",
        "Mark the flue on top and down the sides, from the air hole to the window, about the centre line.",
    ),
    Step(
        Stage.FLUE,
        "flue",
        "Flue cut",
        "Cut the channel into the top of the plug, flat and straight, its floor level with the way the air will "
        "take to the splitting edge. Leave the depth a shaving short and sneak up on it.",
        caution=cautions.CUTTING,
    ),
    Step(
        Stage.FLUE,
        "flue-depth",
        "Flue depth gauged",
        "Measure from a straightedge laid across the flue, at both ends and in the middle. Write down the deepest.",
        StepKind.GAUGE,
        "Flue depth: depth gauge",
        Size("flue-depth", 0.0, 0.1, 0.1),
    ),
    Step(
        Stage.FLUE,
        "flue-width",
        "Flue width gauged",
        "Measure across the flue where it opens into the window.",
        StepKind.GAUGE,
        "Flue width: calipers",
        Size("flue-width", 0.0, 0.2, 0.2),
    ),
]

VOICING = [
    Step(
        Stage.VOICING,
        "window",
        "Window opened",
        "Open the window short and narrow of its lines, by burning with a hot rod or cutting with a chisel, square "
        "to the bore.",
        caution=cautions.BURNING,
    ),
    Step(
        Stage.VOICING,
        "back-wall",
        "Back wall cleaned",
        "Clean the wall at the plug's side: flat, upright, without char or fuzz, its upper edge crisp where the "
        "flue ends.",
        caution=cautions.CUTTING,
    ),
    Step(
        Stage.VOICING,
        "edge",
        "Splitting edge filed",
        "File the ramp down to the splitting edge, near {edge angle} degrees (common practice), straight across "
        "and in line with the floor of the flue. Thin, but not so thin that it chips.",
        caution=cautions.CUTTING,
    ),
    Step(
        Stage.VOICING,
        "window-length",
        "Window length gauged",
        "Measure the cut-up along the bore, from the back wall to the splitting edge. Short can be filed longer; "
        "long stays long.",
        StepKind.GAUGE,
        "Window length: calipers",
        Size("window-length", 0.0, 0.3, 0.2),
    ),
    Step(
        Stage.VOICING,
        "window-width",
        "Window width gauged",
        "Measure the window across the bore.",
        StepKind.GAUGE,
        "Window width: calipers",
        Size("window-width", 0.0, 0.3, 0.3),
    ),
    Step(
        Stage.VOICING,
        "block",
        "Block fitted",
        "Flatten the underside of the block until no air leaks beside the flue. Tie it on and shift it until the "
        "lowest note speaks; mark where it sits.",
        caution=cautions.SANDING_SMALL,
    ),
    Step(
        Stage.VOICING,
        "fundamental",
        "Fundamental checked",
        "All holes closed or not drilled yet, blow steadily and read the lowest note. It should stand a little "
        "below its target now: turning, sanding and the finger holes change it later (common practice, no published "
        "source).",
        StepKind.FUNDAMENTAL,
    ),
]

_TURNED = "Outside size: calipers"

TUNING = [
    Step(
        Stage.TUNING,
        "turned",
        "Turned or planed to its outside",
        "Bring the outside to its finished size and leave the flat under the block and around the window. Measure "
        "at the middle of the finger holes.",
        StepKind.GAUGE,
        _TURNED,
        Size("outside", 0.0, 0.4, 0.4),
        cautions.TURNING,
    ),
    Step(
        Stage.TUNING,
        "sanded",
        "Sanded",
        "Sand through the grits along the grain until no tool mark shows. Blow the chambers clear.",
        caution=cautions.DUST,
    ),
    Step(
        Stage.TUNING,
        "holes-marked",
        "Finger holes laid out",
        "Measure the strip's own check bar with a steel rule first, and type what it shows: a strip printed at 96 % "
        "puts every note some 45 cents sharp. Then lay the strip on the centre line with its zero at the splitting "
        "edge and prick each hole's centre.",
        StepKind.GAUGE,
        "Strip's check bar, exactly 6 in (152.4 mm): steel rule",
        Size(FIXED, 152.4, 0.45, 0.45),
        measures=Measure.LENGTH,
    ),
    Step(
        Stage.TUNING,
        "hole",
        "Finger hole {hole} started small",
        "From the foot up: the hole nearest the foot first. Drill well under the pattern's size; tuning opens it the "
        "rest of the way, and nothing makes it smaller again.",
        StepKind.GAUGE,
        "Hole diameter: drill or small-hole gauge",
        Size(EACH_HOLE),
        cautions.HOLES,
    ),
    Step(
        Stage.TUNING,
        "foot-holes",
        "Foot holes started small",
        "Drill the always-open holes near the foot, well under the pattern's size.",
        caution=cautions.HOLES,
        only=FOOT_HOLES,
    ),
    Step(
        Stage.TUNING,
        "tuned",
        "Tuned",
        "Read each note from the lowest up and open its hole a little at a time. Holes only get larger and the foot "
        "only gets shorter. Let the flute warm up and read again before the last cut.",
        StepKind.READINGS,
        caution=cautions.HOT_ROD,
    ),
]

FINISHING = [
    Step(
        Stage.FINISHING,
        "edges",
        "Edges eased, last sanding",
        "Ease the edges of holes, mouth end and foot; raise the grain with a damp cloth, let it dry, sand it back.",
        caution=cautions.DUST,
    ),
    Step(
        Stage.FINISHING,
        "sealed",
        "Bore and plug sealed",
        "Seal both chambers, the flue and the plug with a thin coat; wipe what stands. Keep it off the splitting "
        "edge. Follow the tin's label for its drying time.",
        StepKind.COAT,
        minutes=4 * 60,
        caution=cautions.FINISHES,
    ),
    Step(
        Stage.FINISHING,
        "coat-1",
        "First coat",
        "One thin coat outside, from a cloth, along the grain. Follow the tin's label for its drying time.",
        StepKind.COAT,
        minutes=12 * 60,
        caution=cautions.FINISHES,
    ),
    Step(
        Stage.FINISHING,
        "coat-2",
        "Last coat",
        "Rub down lightly, dust off, one more thin coat. Follow the tin's label for its drying time.",
        StepKind.COAT,
        minutes=24 * 60,
        caution=cautions.FINISHES,
    ),
    Step(
        Stage.FINISHING,
        "block-tied",
        "Block tied on",
        "Tie the block where it was marked, tight enough not to shift in the hand.",
    ),
    Step(
        Stage.FINISHING,
        "last-tuning",
        "Last tuning",
        "Finish in the holes and under the block moves the pitch: read every note again, warmed up, and correct "
        "with the lightest touch.",
        StepKind.READINGS,
    ),
    Step(
        Stage.FINISHING,
        "final-check",
        "Final check",
        "Every note speaks soft and strong. No leak, no rough edge at the lips, the serial is on it, the papers lie "
        "with it.",
    ),
]
