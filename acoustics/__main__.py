"""The command line: ``python -m acoustics COMMAND [FILE]``, JSON in, JSON out.

Exit status 0 for an answer, 2 for a refused input (one line on standard error), 3 where no layout meets the limits.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

from acoustics.errors import CannotMeet, InvalidInput


def _when_called(module: str, name: str) -> Callable[[Any], dict[str, Any]]:
    """A function that is imported when it is called: each command starts with what it needs alone."""

    def call(given: Any) -> dict[str, Any]:
        answer: dict[str, Any] = getattr(import_module(f"acoustics.{module}"), name)(given)
        return answer

    return call


COMMANDS: dict[str, Callable[[object], dict[str, Any]]] = {
    "predict": _when_called("commands", "predict"),
    "design": _when_called("designing.design", "run"),
    "air": _when_called("commands", "air"),
    "advise": _when_called("commands", "advise"),
    "sound": _when_called("commands", "sound"),
}
"""What each command does with its document. One line adds a command."""

RECORDINGS: dict[str, Callable[[list[str]], dict[str, Any]]] = {"listen": _when_called("listening.command", "command")}
"""The same for commands whose FILE is a recording: they read their own arguments."""

_MAX_BYTES = 4_000_000


def main(arguments: list[str]) -> int:
    """Run one command and return the exit status."""
    asks = any(one in ("--help", "--version") or one.startswith("--show-") for one in arguments)
    to_hear = not asks and bool(arguments) and arguments[0] in RECORDINGS
    plain = not asks and len(arguments) in (1, 2) and arguments[0] in COMMANDS
    if not to_hear and not (plain and (len(arguments) == 1 or not arguments[1].startswith("--"))):
        from acoustics.command_line import run  # half a second that no calculation should wait for

        return run(arguments)
    try:
        if to_hear:
            answer = RECORDINGS[arguments[0]](arguments[1:])
        else:
            answer = COMMANDS[arguments[0]](_read(arguments[1] if len(arguments) == 2 else None))
    except InvalidInput as refused:
        print(" ".join(str(refused).split()), file=sys.stderr)
        return 2
    except CannotMeet as short:
        print(json.dumps({"nearest": short.nearest.to_json(), "gave": [str(gave) for gave in short.gave]}, indent=1))
        print(" ".join(str(short).split()), file=sys.stderr)
        return 3
    print(json.dumps(answer, indent=1, allow_nan=False))
    return 0


def _read(name: str | None) -> object:
    try:
        raw = sys.stdin.buffer.read(_MAX_BYTES + 1) if name in (None, "-") else _bytes(Path(str(name)))
    except OSError as failed:
        raise InvalidInput("FILE", name, failed.strerror or "cannot be read") from None
    if len(raw) > _MAX_BYTES:
        raise InvalidInput("FILE", len(raw), f"must be at most {_MAX_BYTES} bytes")
    try:
        return json.loads(raw, object_pairs_hook=_once)
    except (ValueError, RecursionError) as failed:
        if isinstance(failed, InvalidInput):
            raise
        raise InvalidInput("document", raw[:40].decode("utf-8", "replace"), f"must be JSON ({failed})") from None


def _bytes(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(_MAX_BYTES + 1)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    document: dict[str, Any] = {}
    for name, value in pairs:
        if name in document:
            raise InvalidInput(name, value, "is given twice")
        document[name] = value
    return document


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
