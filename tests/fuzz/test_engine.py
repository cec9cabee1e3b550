"""The engine under documents that are nearly right: a result that is JSON, or a refusal that names the field, and
never later than a few seconds of the processor's."""

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings, strategies as st

from acoustics.__main__ import COMMANDS
from acoustics.errors import CannotMeet, InvalidInput
from acoustics.learning import estimate as learning
from tests.blanks import FLUTE
from tests.fuzz.documents import ODD, nearly
from tests.fuzz.patience import within

PATIENCE = 20.0  # seconds of the processor's: what the slowest honest question takes, many times over

AIR = {"temperature": 20.0, "relative_humidity": 0.5, "pressure": 101.325, "co2": 0.0004}
PINNED = {"speed_of_sound": 345.0, "density": 1.19, "viscosity": 1.8e-5, "prandtl": 0.71, "gamma": 1.4}
DESIGN = {
    "key": "A4",
    "scale": "minor pentatonic",
    "holes": 6,
    "a4": 440.0,
    "temperament": "equal",
    "limits": {"spacing": [20.0, 60.0], "reach": 140.0, "diameter": [4.0, 12.0], "to_foot": 20.0},
    "drills": [4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0],
    "wall": 4.8,
    "air": AIR,
}
HEARD = [{"fingering": "xxxxxx", "frequency": 436.0}, {"fingering": "xxxxxo", "frequency": 515.0, "air": PINNED}]
TARGETS = [{"fingering": "xxxxxx", "frequency": 440.0}, {"fingering": "xxxxxo", "frequency": 523.3}]
SHOP = {
    "mean": {"window": 0.1, "bore": -0.002, "holes": 0.01, "air": 2.0},
    "notes": {"xxxxxx": -0.8},
    "note_sd": 1.5,
    "reading_sd": 3.0,
    "cut_sd": 0.05,
    "finishing": {"wall": 0.3, "cents": 0.0, "sd": 1.0},
    "flutes": 12,
    "family": "A4 small",
}
ADVICE = {
    "instrument": FLUTE.to_json(),
    "readings": HEARD,
    "targets": TARGETS,
    "air": AIR,
    "shop": SHOP,
    "tolerance": 5.0,
    "risk": 0.02,
    "drills": [7.0, 7.5, 8.0],
}
FINISHED = {"name": "0007", "family": "A4", "instrument": FLUTE.to_json(), "air": AIR, "readings": HEARD}
PREDICT = {"instrument": FLUTE.to_json(), "air": AIR, "fingerings": ["xxxxxx", "xxxxxo"], "modes": 2, "losses": True}
SOUND = {
    "instrument": FLUTE.to_json(),
    "air": AIR,
    "fingerings": ["xxxxxx", "xxxxxo", "oooooo"],
    "pressures": [50.0, 300.0, 521.0, 2000.0],
}
DOCUMENTS: dict[str, tuple[Callable[[Any], Any], Any, int]] = {
    "air": (COMMANDS["air"], AIR, 60),
    "predict": (COMMANDS["predict"], PREDICT, 60),
    "design": (COMMANDS["design"], DESIGN, 40),
    "advise": (COMMANDS["advise"], ADVICE, 40),
    "sound": (COMMANDS["sound"], SOUND, 120),
    "learn": (learning.run, {"flutes": [FINISHED], "shop": SHOP}, 25),
}


@pytest.mark.parametrize("command", DOCUMENTS)
def test_a_document_that_is_nearly_right_is_answered_or_refused(command: str) -> None:
    answer, document, examples = DOCUMENTS[command]
    with within(PATIENCE):
        json.dumps(answer(copy.deepcopy(document)), allow_nan=False)  # as it stands, it is taken

    @settings(
        max_examples=examples,
        derandomize=True,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
        phases=[Phase.generate],
    )
    @given(st.one_of(nearly(document), nearly(document), nearly(document), ODD))
    def one(asked: Any) -> None:
        with within(PATIENCE):
            try:
                json.dumps(answer(asked), allow_nan=False)
            except InvalidInput as refused:
                assert refused.field or "unknown field" in str(refused)
            except CannotMeet as short:
                json.dumps(short.nearest.to_json(), allow_nan=False)

    one()
