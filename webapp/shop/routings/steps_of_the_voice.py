"""Flue, voicing, tuning, finishing: from a closed blank to a flute. All of it common practice, no published source."""

from webapp.models import Measure, Stage, StepKind
from webapp.shop.routings import cautions
from webapp.shop.routings.step_plan import EACH_HOLE, FIXED, FOOT_HOLES, ROUND, Size, Step

# Cents by which one size within its limits may move a note: two thirds of the 5 that a note may usually be off. Less
# would ask for more than hand work holds; the holes, started small, take up what is left.
SHARE = 3.3

FLUE = [
    Step(
        Stage.FLUE,
        "seat",
        "Seat planed",
        "Plane the flat for block and window parallel to the bore, from behind the exit hole to past the ramp. Rub it "
        "on fine paper on a plate: a straightedge shows no light along it or across.",
        caution=cautions.HAND_PLANE,
        only=ROUND,
    ),
    Step(
        Stage.FLUE,
        "seat-width",
        "Seat gauged",
        "Measure across the flat at the flue. Wider is planed deeper: the wall at the window is thinner then.",
        StepKind.GAUGE,
        "Seat width: calipers",
        Size("seat-width", 0.0, 0.8, 0.8),
    ),
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
        "Measure from a straightedge laid across the flue, at both ends and in the middle. Write down the deepest. "
        "The pattern's depth is as left, after the seat is finished and sealed: cut now, it is about as much deeper as "
        "the seat still loses (as left about 1/32 in is common practice).",
        StepKind.GAUGE,
        "Flue depth as left: depth gauge",
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
        "flue-floor",
        "Flue floor gauged",
        "Through the window, measure the wood at the back wall from the bore up to the floor of the flue: the edge is "
        "filed to this height.",
        StepKind.GAUGE,
        "Flue floor over the bore: calipers",
        Size("flue-floor", 0.0, 0.3, 0.3),
    ),
    Step(
        Stage.VOICING,
        "window-wall",
        "Wall at the window gauged",
        "Measure the wood beside the window from the bore to the flat: a tenth of a millimetre is worth almost "
        "two cents.",
        StepKind.GAUGE,
        "Wall at the window: calipers",
        Size("window-wall", 0.0, 0.2, 0.2, SHARE),
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
        "edge-height",
        "Edge height gauged",
        "Measure from the bore's surface up to the tip of the splitting edge, on the centre line: calipers in the "
        "window, or a slip of card cut to the height.",
        StepKind.GAUGE,
        "Edge over the bore: calipers",
        Size("edge-height", 0.0, 0.3, 0.3, SHARE),
    ),
    Step(
        Stage.VOICING,
        "window-length",
        "Window length gauged",
        "Measure the cut-up along the bore, from the back wall to the splitting edge. Short can be filed longer; "
        "long stays long.",
        StepKind.GAUGE,
        "Window length: calipers",
        Size("window-length", 0.0, 0.3, 0.2, SHARE),
    ),
    Step(
        Stage.VOICING,
        "window-width",
        "Window width gauged",
        "Measure the window across the bore.",
        StepKind.GAUGE,
        "Window width: calipers",
        Size("window-width", 0.0, 0.3, 0.3, SHARE),
    ),
    Step(
        Stage.VOICING,
        "block-made",
        "Block made",
        "Saw and shape the block to the pattern's length, width and height; its end toward the window square "
        "and crisp. "
        "Flatten its underside on fine paper on a plate.",
        caution=cautions.SANDING_SMALL,
    ),
    Step(
        Stage.VOICING,
        "block",
        "Block fitted",
        "Hold block and seat against the light: none shows beside the flue. Tie the block on, its end where the "
        "pattern "
        "has it, and shift it until the lowest note speaks; mark where it sits.",
        caution=cautions.SANDING_SMALL,
    ),
    Step(
        Stage.VOICING,
        "fundamental",
        "Fundamental checked",
        "All holes closed or not drilled yet, blow steadily and read the lowest note. It should stand a little "
        "below its target now: turning, sanding and the finger holes change it later (common practice, no published "
        "source). A blank for the shelf may take another key here.",
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
        Size("outside", 0.0, 0.4, 0.4, SHARE),
        cautions.TURNING,
    ),
    Step(
        Stage.TUNING,
        "sanded",
        "Sanded",
        "Sand through the grits along the grain until no tool mark shows. Clear the chambers with "
        "a brush or extraction; nothing is blown.",
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
        "Strip's 6 in (152.4 mm) bar: steel rule",
        Size(FIXED, 152.4, 0.45, 0.45),
        measures=Measure.LENGTH,
    ),
    Step(
        Stage.TUNING,
        "last-hole",
        "Hole places gauged",
        "Measure from the splitting edge to the prick of the hole nearest the foot: all of them lie by its share.",
        StepKind.GAUGE,
        "Edge to the last hole: rule",
        Size("last-hole", 0.0, 0.5, 0.5, SHARE),
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
        "Seal both chambers, the flue, the plug, the seat and the block's underside with a thin coat; wipe what "
        "stands. "
        "Keep it off the splitting edge. Once it is dry lay a straightedge on the seat: it is flat still, or is rubbed "
        "flat. Follow the tin's label for its drying time.",
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
        "Rub down lightly, dust off, one more thin coat. Tung and linseed oils want days, not hours: nothing touches "
        "lips and no parcel is closed before the label's cure time is over.",
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
