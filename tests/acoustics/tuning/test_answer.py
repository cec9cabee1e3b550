"""The answer in types says what the command says in JSON, to the last digit; a sentence calls a note by any name."""

import pytest

from acoustics.belief.corrections import Prior
from acoustics.belief.heard import Reading
from acoustics.commands import advise as in_json
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.tuning.advise import AdviceRequest, advise
from acoustics.tuning.aims import Aim
from acoustics.tuning.words import Why
from tests import blanks

AIR = Air.moist(22.0, 0.5, 0.0)
FINGERINGS = ("xxxxxx", "xxxxxo", "xxxxoo", "xxxooo", "xxoooo", "xooooo")
AIMS = [
    Aim(fingering, 440.0 * 2 ** (step / 12)) for fingering, step in zip(FINGERINGS, (0, 3, 5, 7, 10, 12), strict=True)
]
READ = (1.0, 0.97, 0.98, 0.985, 0.99, 0.97)


@pytest.mark.parametrize("heard", [0, 3, 6, 12])
@pytest.mark.parametrize("drills", [None, [6.5, 7.0, 7.5, 8.0, 8.5, 9.0]])
def test_types_and_json_say_the_same(heard: int, drills: list[float] | None) -> None:
    flute = blanks.FLUTE
    readings = [
        Reading(aim.fingering, aim.frequency * part, flute, AIR) for aim, part in zip(AIMS * 2, READ * 2, strict=True)
    ][:heard]
    answer = advise(AdviceRequest.of(flute, AIMS, readings, air=AIR, prior=Prior(), tolerance=5.0, drills=drills))
    told = in_json(
        {
            "instrument": flute.to_json(),
            "air": AIR.to_json(),
            "targets": [{"fingering": aim.fingering, "frequency": aim.frequency} for aim in AIMS],
            "readings": [
                {
                    "fingering": r.fingering,
                    "frequency": r.frequency,
                    "instrument": flute.to_json(),
                    "air": AIR.to_json(),
                }
                for r in readings
            ],
            "shop": Prior().to_json(),
            "tolerance": 5.0,
        }
        | ({"drills": drills} if drills else {})
    )
    step = answer.next
    assert told["next"] == {
        "action": step.action,
        "hole": step.hole,
        "fingering": step.fingering,
        "from": step.start,
        "to": step.to,
        "expected_cents": step.expected,
        "sd_cents": step.sd,
        "expected_reading": step.reading,
        "risk_sharp": step.risk,
        "why": str(step.why),
    }
    assert [(n["fingering"], n["expected_cents"], n["sd_cents"], n["finished_cents"]) for n in told["notes"]] == [
        (n.fingering, n.expected, n.sd, n.finished) for n in answer.notes
    ]
    assert {name: one["mean"] for name, one in told["corrections"].items()} == {
        one.name: one.mean for one in answer.corrections
    }


def test_a_note_is_called_as_its_reader_calls_it() -> None:
    flute = Instrument.from_json(blanks.FLUTE.to_json())
    first = advise(AdviceRequest.of(flute, AIMS, air=AIR)).next
    assert first.why.text({"xxxxxx": "A4"}.__getitem__) == "This flute has no reading yet: play A4 first."
    assert str(first.why) == "This flute has no reading yet: play xxxxxx first."
    # A flute without finger holes has one note, whose fingering has no letters at all.
    assert Why("Play {note} first.", "").text() == "Play the bore without holes first."
