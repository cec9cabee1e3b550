"""How the log looks: lines for people, or one JSON object a line for programs."""

import logging
import sys

from pythonjsonlogger.json import JsonFormatter

_TEXT = "%(asctime)s %(levelname)s %(name)s %(message)s"


class _WithTime(logging.Formatter):
    """Lines for people; a request's line also says how long it took and the mark by which to find it."""

    def format(self, record: logging.LogRecord) -> str:
        text = super().format(record)
        ms, mark = getattr(record, "ms", None), getattr(record, "mark", None)
        return f"{text} in {ms} ms [{mark}]" if ms is not None else text


def set_up(json: bool) -> None:
    """Send everything at INFO and above to standard error, in one of the two shapes."""
    handler = logging.StreamHandler(sys.stderr)
    if json:
        names = {"asctime": "at", "levelname": "level", "name": "logger"}
        handler.setFormatter(JsonFormatter("%(asctime)s %(levelname)s %(name)s %(message)s", rename_fields=names))
    else:
        handler.setFormatter(_WithTime(_TEXT))
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.INFO)
    for noisy in ("fontTools", "weasyprint", "uvicorn.access"):
        logging.getLogger(noisy).setLevel(logging.WARNING)
