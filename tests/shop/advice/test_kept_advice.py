"""Advice is worked out once for each question, whoever asks it how often; faults are not kept."""

from typing import Any

import pytest

from acoustics.errors import InvalidInput
from webapp.shop.advice import kept_advice


def test_the_same_question_is_answered_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[dict[str, Any]] = []

    def engine(question: dict[str, Any]) -> dict[str, Any]:
        asked.append(question)
        if question["readings"] == "odd":
            raise InvalidInput("readings", "odd", "must be a list")
        return {"for": question["readings"]}

    monkeypatch.setattr(kept_advice, "advise", engine)
    monkeypatch.setattr(kept_advice, "KEPT", 3)
    kept_advice._answers.clear()
    for readings in ([1], [1], [1, 2], [1]):
        assert kept_advice.advised({"air": {"t": 20}, "readings": readings}) == {"for": readings}
    assert [one["readings"] for one in asked] == [[1], [1, 2]]
    # In another air it is another question, in whatever order its parts are named.
    kept_advice.advised({"readings": [1], "air": {"t": 21}})
    kept_advice.advised({"readings": [1], "air": {"t": 20}})
    assert len(asked) == 3
    for _ in range(2):
        with pytest.raises(InvalidInput):
            kept_advice.advised({"readings": "odd"})
    # The one not asked for longest has gone.
    kept_advice.advised({"air": {"t": 1}, "readings": [9]})
    kept_advice.advised({"air": {"t": 20}, "readings": [1, 2]})
    assert len(asked) == 7
    kept_advice._answers.clear()
