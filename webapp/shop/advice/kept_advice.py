"""The engine's advice, kept for the question that it answers: a page that is looked at again need not wait for it.

The question holds all that the answer rests on (the flute, its readings, the air, what the shop learnt), so an answer
never grows old: whatever changes makes another question.
"""

import hashlib
import json
import threading
from collections import OrderedDict
from collections.abc import Mapping
from typing import Any, Final

from acoustics.tuning.advise import advise

KEPT: Final = 300
"""Answers that are kept, each a few kilobytes; those not asked for longest go first."""

_answers: OrderedDict[bytes, dict[str, Any]] = OrderedDict()
_lock = threading.Lock()


def advised(asked: Mapping[str, Any]) -> dict[str, Any]:
    """What `acoustics.tuning.advise.advise` says to this question; not to be changed. Raises what that raises."""
    key = hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).digest()
    with _lock:
        if key in _answers:
            _answers.move_to_end(key)
            return _answers[key]
    answer: dict[str, Any] = advise(dict(asked))
    with _lock:
        _answers[key] = answer
        while len(_answers) > KEPT:
            _answers.popitem(last=False)
    return answer
