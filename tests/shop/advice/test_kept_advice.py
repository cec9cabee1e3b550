"""Advice is worked out once for each question, whoever asks it how often; faults are not kept."""

from dataclasses import replace
from typing import Any

import pytest

from acoustics.belief.corrections import Finishing, Prior
from acoustics.belief.heard import Reading
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.notes.music import targets
from acoustics.tuning.advise import AdviceRequest
from acoustics.tuning.aims import Aim
from tests import blanks as made
from webapp.shop.advice import next_cut as advice

AIMS = [Aim(target.fingering, target.frequency) for target in targets("A4", "minor pentatonic", 6)]
WARM = Air.moist(30.0)


def question(*heard: float, **more: Any) -> AdviceRequest:
    """Made from the ground up each time: only what is asked is the same."""
    flute = Instrument.from_json(made.FLUTE.to_json())
    taught = Prior.from_json({"mean": {"holes": 0.01}, "notes": {"xxxxxx": 1.0}})
    readings = [Reading("xxxxxx", pitch, flute, Air.moist(24.0)) for pitch in heard]
    return AdviceRequest.of(flute, AIMS, readings, **{"prior": taught} | more)


def test_the_same_question_is_answered_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[AdviceRequest] = []

    def engine(request: AdviceRequest) -> tuple[int, int]:
        asked.append(request)
        if len(request.readings) == 3:
            raise InvalidInput("readings", 3, "must be another number")
        return len(request.readings), len(asked)

    monkeypatch.setattr(advice, "advise", engine)
    advice.advised.cache_clear()
    for heard, answer in (((437.0,), (1, 1)), ((437.0,), (1, 1)), ((437.0, 438.0), (2, 2)), ((437.0,), (1, 1))):
        assert advice.advised(question(*heard)) == answer
    # In another air, for another flute, with other hopes or other knowledge it is another question.
    thinner = replace(made.FLUTE, body=replace(made.FLUTE.body, wall=4.0))
    others = [
        question(437.0, air=WARM),
        question(437.1),
        question(437.0, tolerance=4.0),
        question(437.0, risk=0.025),
        question(437.0, drills=[8.0, 8.5]),
        question(437.0, prior=Prior()),
        question(437.0, prior=Prior.from_json({"mean": {"holes": 0.01}, "notes": {"xxxxxx": 1.5}})),
        question(437.0, prior=replace(question().prior, finishing=Finishing(0.3))),
        AdviceRequest.of(thinner, AIMS),
    ]
    for other in others:
        advice.advised(other)
    assert len(asked) == 2 + len(others)
    for _ in range(2):
        with pytest.raises(InvalidInput):
            advice.advised(question(437.0, 438.0, 439.0))
    assert len(asked) == 4 + len(others)
    assert advice.advised.cache_info().maxsize == advice.KEPT
    advice.advised.cache_clear()


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"tolerance": 0.1}, "tolerance"),
        ({"risk": 0.9}, "risk"),
        ({"drills": [80.0]}, "drills[0]"),
        ({"drills": []}, "drills"),
        ({"prior": Prior(finishing=Finishing(-1.0))}, "shop.finishing.wall"),
        ({"readings": [Reading("xx", 440.0, made.FLUTE, WARM)]}, "readings[0].fingering"),
        ({"readings": [Reading("xxxxxx", 4.0, made.FLUTE, WARM)]}, "readings[0].frequency"),
        ({"readings": [Reading("xxxxxx", 440.0, made.FLUTE, WARM)] * 401}, "readings"),
        ({"aims": [Aim("xxx", 440.0)]}, "targets[0].fingering"),
        ({"aims": []}, "targets"),
    ],
)
def test_a_request_keeps_the_limits_of_the_command(more: dict[str, Any], field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        AdviceRequest.of(made.FLUTE, more.pop("aims", AIMS), more.pop("readings", ()), **more)
    assert refused.value.field == field
