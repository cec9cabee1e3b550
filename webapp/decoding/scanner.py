"""A virus scanner of this computer, where the shop names one: it reads a file before anything else opens it."""

import logging
import subprocess
from collections.abc import Sequence

from webapp.decoding.made import Refused

log = logging.getLogger("flutebench")

CLEAN, FOUND = 0, 1
"""Exit codes of scanners (clamscan(1), clamdscan(1): 'RETURN CODES'); any other is a fault of the scanner's."""
HARMFUL = "The virus scanner of this computer found something harmful in it, so it is not kept."
NOT_LOOKED_AT = (
    "The virus scanner of this computer does not answer, so nothing is kept. Tell whoever keeps the computer."
)


def look_through(command: Sequence[str], sent: bytes, seconds: float) -> None:
    """Have `command` read the file from its standard input. Raises Refused where it finds something, or fails."""
    try:
        done = subprocess.run(command, input=sent, capture_output=True, timeout=seconds, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        log.error("the virus scanner %s failed: %s", command[0], error)
        raise Refused(NOT_LOOKED_AT) from error
    if done.returncode == FOUND:
        log.warning("the virus scanner refused a file: %s", done.stdout.decode(errors="replace").strip()[:300])
        raise Refused(HARMFUL)
    if done.returncode != CLEAN:
        said = done.stderr.decode(errors="replace").strip()[:300]
        log.error("the virus scanner %s ended with %s: %s", command[0], done.returncode, said)
        raise Refused(NOT_LOOKED_AT)
