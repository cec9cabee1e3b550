"""JSON Schema of every command's input and output, made from their types, with an example of each input."""

from __future__ import annotations

from typing import Any, Final

from pydantic import TypeAdapter

from acoustics import documents

_FLUTE: Final = {
    "format": "two-chamber-flute/1",
    "bore": [[-9.0, 15.9], [292.0, 15.9]],
    "body": {"outside": "round", "wall": 4.8},
    "window": {"length": 5.5, "width": 9.5, "wall": 3.6, "edge_angle": 30},
    "holes": [{"x": 132.0, "diameter": 7.0}, {"x": 156.0, "diameter": 7.5, "wall": 4.5}],
    "flue": {"depth": 0.8, "width": 9.4, "length": 22.0},
}
EXAMPLES: Final[dict[str, dict[str, Any]]] = {
    "predict": {"instrument": _FLUTE, "air": {"temperature": 24, "relative_humidity": 0.9}, "fingerings": ["xx", "xo"]},
    "design": {"key": "A4", "scale": "minor pentatonic", "holes": 6, "drills": [6.5, 7, 7.5, 8, 8.5, 9, 9.5]},
    "advise": {
        "instrument": _FLUTE,
        "targets": [{"fingering": "xx", "frequency": 500.0}],
        "readings": [{"fingering": "xx", "frequency": 497.2}],
    },
    "sound": {"instrument": _FLUTE, "fingerings": ["xx"], "pressures": [200, 400, 800]},
    "air": {"temperature": 20, "relative_humidity": 0.5, "co2": 0.0004, "pressure": 101.325},
}
_TAKES: Final[dict[str, Any]] = {
    "predict": documents.PredictIn,
    "design": documents.DesignIn,
    "advise": documents.AdviseIn,
    "sound": documents.SoundIn,
    "air": documents.AirDocument,
}
_GIVES: Final[dict[str, Any]] = {
    "predict": documents.PredictOut,
    "design": documents.DesignOut,
    "advise": documents.AdviseOut,
    "sound": documents.SoundOut,
    "air": documents.AirOut,
    "listen": documents.ListenOut,
}
DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"


def schemas() -> dict[str, dict[str, Any]]:
    """For each command `input` (not of `listen`, whose FILE is a recording) and `output`.

    A document that its schema refuses is refused by the engine; the engine also refuses sizes that make no flute.
    """
    return {name: schema(name) for name in _GIVES}


def schema(command: str) -> dict[str, Any]:
    """The same for one command."""
    made = {"output": _schema(_GIVES[command])}
    if command in _TAKES:
        made["input"] = _schema(_TAKES[command]) | {"examples": [EXAMPLES[command]]}
    return made


def _schema(kind: Any) -> dict[str, Any]:
    made: dict[str, Any] = {"$schema": DIALECT} | TypeAdapter(kind).json_schema()
    _close(made)
    return made


def _close(part: Any) -> None:
    """No object has fields of other names: the engine refuses them."""
    if isinstance(part, dict):
        if "properties" in part:
            part["additionalProperties"] = False
        for inner in part.values():
            _close(inner)
    elif isinstance(part, list):
        for inner in part:
            _close(inner)
