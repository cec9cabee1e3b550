"""How the log looks: lines for people, or one JSON object a line for programs."""

import logging
import sys
import time
from typing import Any

from pythonjsonlogger.json import JsonFormatter

_TEXT = "%(asctime)s %(levelname)s %(name)s %(message)s"


class _AsJson(JsonFormatter):
    """UTC as RFC 3339 has it; without the colours that the server adds for a screen."""

    converter = staticmethod(time.gmtime)
    default_time_format = "%Y-%m-%dT%H:%M:%S"
    default_msec_format = "%s.%03dZ"

    def process_log_record(self, log_data: dict[str, Any]) -> dict[str, Any]:
        log_data.pop("color_message", None)
        return log_data


class _WithTime(logging.Formatter):
    """Lines for people; a request's line also says how long it took and the mark by which to find it."""

    def format(self, record: logging.LogRecord) -> str:
        text = super().format(record)
        ms, mark = getattr(record, "ms", None), getattr(record, "mark", None)
        return f"{text} in {ms} ms [{mark}]" if ms is not None else text


def _no_socket(record: logging.LogRecord) -> bool:
    return '"WebSocket' not in str(record.msg)


def set_up(json: bool) -> None:
    """Send everything at INFO and above to standard error, in one of the two shapes."""
    handler = logging.StreamHandler(sys.stderr)
    if json:
        names = {"asctime": "at", "levelname": "level", "name": "logger"}
        handler.setFormatter(_AsJson("%(asctime)s %(levelname)s %(name)s %(message)s", rename_fields=names))
    else:
        handler.setFormatter(_WithTime(_TEXT))
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.INFO)
    # The server's own line for each socket would hold the network address and the whole path.
    logging.getLogger("uvicorn.error").addFilter(_no_socket)
    for noisy in ("fontTools", "weasyprint", "uvicorn.access", "alembic.runtime.migration"):
        logging.getLogger(noisy).setLevel(logging.WARNING)
