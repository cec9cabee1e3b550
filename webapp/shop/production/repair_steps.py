"""The steps of a repair, a retuning or a check of a flute that is built. Common practice, no published source.

They stand behind the steps that the flute was built by, so that its whole history stays in one row.
"""

from webapp.models import BlankStep, RepairKind, Stage, StepKind
from webapp.shop.routings import cautions
from webapp.shop.routings.step_plan import Step, measure_of

_LOOK = Step(
    Stage.VOICING,
    "repair-look",
    "Looked over and played as it came",
    "Before anything is done to it: look for cracks, open joints, a loose block, a worn edge. Play every note and "
    "read it at the bench, so that it is known what the flute was like when it came in.",
)
_GLUE = Step(
    Stage.VOICING,
    "repair-glue",
    "Cracks and joints glued",
    "Let the wood come to the shop's own damp first. Clamp it no harder than closes the joint, and leave it as long "
    "as the label says.",
    caution=cautions.GLUING,
)
_VOICE = Step(
    Stage.VOICING,
    "repair-voice",
    "Flue, edge and block seen to",
    "Clean flue and window without widening them. Touch the splitting edge only where it is chipped; flatten the "
    "block's underside until no air leaks.",
    caution=cautions.CUTTING,
)
_TUNE = Step(
    Stage.TUNING,
    "repair-tune",
    "Retuned",
    "Read each note from the lowest up, warmed up. Holes only get larger and the foot only gets shorter; a note that "
    "is sharp needs wood put back, which is another repair.",
    StepKind.READINGS,
    caution=cautions.HOT_ROD,
)
_FINISH = Step(
    Stage.FINISHING,
    "repair-finish",
    "Finish touched up",
    "Only where it was opened, with the finish it was made with. Follow the tin's label for its drying time.",
    caution=cautions.FINISHES,
)
_READ = Step(
    Stage.FINISHING,
    "repair-read",
    "Every note read again",
    "Read every note at the bench, warmed up: these readings are kept beside the earlier ones.",
    StepKind.READINGS,
)
_CHECK = Step(
    Stage.FINISHING,
    "repair-check",
    "Checked before it goes back",
    "Every note speaks soft and strong, no leak, no rough edge at the lips. Write what was found and done on the "
    "order, in words for its player.",
)

STEPS = {
    RepairKind.REPAIR: (_LOOK, _GLUE, _VOICE, _FINISH, _READ, _CHECK),
    RepairKind.RETUNING: (_LOOK, _TUNE, _CHECK),
    RepairKind.CHECK: (_LOOK, _CHECK),
}


def steps_for(repair_id: int, kind: RepairKind, blank_id: int, after: int) -> list[BlankStep]:
    """The repair's own steps, behind position `after`; the caller adds the rows."""
    return [
        BlankStep(
            blank_id=blank_id,
            repair_id=repair_id,
            stage=step.stage,
            position=after + number,
            code=step.code,
            name=step.name,
            instruction=step.instruction,
            caution=step.caution,
            kind=step.kind,
            gauge=step.gauge,
            measures=measure_of(step),
        )
        for number, step in enumerate(STEPS[kind], start=1)
    ]
