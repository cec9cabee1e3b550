"""Boring and gluing: from a board to a closed, square blank. All of it common practice, no published source."""

from webapp.models import Stage, StepKind
from webapp.shop.routings import cautions
from webapp.shop.routings.step_plan import Size, Step

ALLOWANCE = 25.4 / 64  # mm left over for turning and sanding

BORING = [
    Step(
        Stage.BORING,
        "halves",
        "Halves chosen and cut",
        "Two halves from one board, the grain running the same way, no knot at the plug, the window or a finger "
        "hole. Let both lie in the shop until their moisture agrees. Mark the joint faces and the mouth end.",
        caution=cautions.SAWING,
    ),
    Step(
        Stage.BORING,
        "bore",
        "Bores milled",
        "Mill the slow air chamber and the sound chamber into each half with a round-nose cutter, half the depth at "
        "a time, and leave the plug standing between them. Take the last pass of each channel in one go, from "
        "its open end to the plug, and stop there.",
        caution=cautions.ROUTING,
    ),
    Step(
        Stage.BORING,
        "flaws",
        "Flaws filled",
        "Look over both channels under a low light. Fill tear-out, pinholes and checks, let the filler harden, cut "
        "it level.",
        caution=cautions.FILLING,
    ),
    Step(
        Stage.BORING,
        "bore-sanded",
        "Bore sanded",
        "Wrap 80 grit around a dowel one paper's thickness under size and draw it the full length, the same number "
        "of strokes in each half, until the tool's ridges are gone.",
        caution=cautions.DUST,
    ),
    Step(
        Stage.BORING,
        "bore-gauge",
        "Bore gauged",
        "Lay a full-size dowel in each half: it goes down to its middle everywhere and touches along its length. "
        "Then measure the channel across at the joint face, near the foot.",
        StepKind.GAUGE,
        "Bore diameter: calipers and a full-size dowel",
        Size("bore-foot", 0.0, 0.2, 0.3),
    ),
    Step(
        Stage.BORING,
        "halves-meet",
        "Halves planed until they meet",
        "Plane both joint faces, thin shavings, until the halves lie on each other with no light between them. Each "
        "shaving makes the bore shallower: stop as soon as they meet.",
        caution=cautions.PLANING,
    ),
    Step(
        Stage.BORING,
        "bore-again",
        "Bore gauged again",
        "Planing the faces made each channel shallower. Lay a rule across the joint face and measure down to the "
        "bottom of the channel, near the foot: half the bore.",
        StepKind.GAUGE,
        "Channel depth: depth gauge",
        Size("bore-half", 0.0, 0.1, 0.15),
    ),
    Step(
        Stage.BORING,
        "centre",
        "Centre marked",
        "Draw the centre line along the outside of both halves and over both ends. Everything later is laid out "
        "from it.",
    ),
    Step(
        Stage.BORING,
        "plug-kerfs",
        "Kerfs and air holes at the plug",
        "Saw a shallow kerf at each face of the plug: it shows the plug's place outside and leads the drill. Drill the "
        "air holes close to the plug on either side: out of the slow air chamber, and down into the sound chamber "
        "where the window will be. A kerf that reaches past the plug would leak: mark it, to be filled at glue-up.",
        caution=cautions.DRILLING,
    ),
    Step(
        Stage.BORING,
        "dry-fit",
        "Dry fit",
        "Clamp the halves without glue. The channels line up at both ends, no light shows along the joint, all "
        "clamps reach.",
    ),
]

GLUING = [
    Step(
        Stage.GLUING,
        "glue-up",
        "Glue-up",
        "Fill any kerf that reaches past the plug with glue and a sliver of wood. Spread a thin, even film on "
        "one joint "
        "face and keep it a little back from the bore. Clamp from the middle outwards, evenly. Passed when it comes "
        "out of the clamps.",
        StepKind.GLUE_UP,
        caution=cautions.GLUING,
    ),
    Step(
        Stage.GLUING,
        "swab",
        "Squeeze-out swabbed",
        "While it is in the clamps, swab both chambers with a rag on a stick: twice wet, once dry. Look through "
        "against the light; a ridge of glue left in the bore is hard to get at later.",
        while_waiting=True,
    ),
    Step(
        Stage.GLUING,
        "cure",
        "Cured",
        "Leave the glue to reach its full strength before the outside is worked.",
        StepKind.CURE,
    ),
    Step(
        Stage.GLUING,
        "plug-tight",
        "Plug and kerfs checked for leaks",
        "Close foot and window side with a palm and tape and draw on the other chamber: nothing may come through the "
        "plug, the joint or a kerf. What leaks is closed now with thin glue, where it can still be reached.",
        caution=cautions.THIN_GLUE,
    ),
    Step(
        Stage.GLUING,
        "scraped",
        "Squeeze-out scraped",
        "Scrape the beads of glue off the outside; they dull plane irons.",
        caution=cautions.EYES,
    ),
    Step(
        Stage.GLUING,
        "planed",
        "Planed to size",
        "Plane the outside square to the bore, with 1/64 in left over for turning and sanding. Check at both ends "
        "that the bore lies in the middle.",
        StepKind.GAUGE,
        "Outside size: calipers",
        Size("outside", ALLOWANCE, 0.3, 0.6),
        cautions.PLANING,
    ),
    Step(
        Stage.GLUING,
        "mouth",
        "Mouth end and breath hole",
        "Saw the mouth end square, drill the breath hole along the centre line into the slow air chamber (about 8 mm, "
        "5/16 in), and shape the mouthpiece. Blow through: the air leaves by the exit hole freely.",
        caution=cautions.DRILLING,
    ),
    Step(
        Stage.GLUING,
        "foot-start",
        "Foot sawn, left long",
        "Mark where the splitting edge will be, measure from there to the foot, and saw the foot square at this "
        "length. It is left long so that tuning can still take it off: a foot that is too short stays too short.",
        StepKind.GAUGE,
        "Splitting edge to foot: rule",
        Size("foot-start", 0.0, 1.0, 15.0),
        cautions.SAWING,
    ),
]
