"""A process of its own that opens one file after another: what a hostile file can make a library do ends with it.

Run by `workers` as a module, with its limits (JSON) as its argument. It first limits its own memory, then reads files
from standard input and answers on standard output (see `wire`), until there are no more, or one of them took much.
"""

import json
import logging
import os
import sys
from contextlib import suppress
from pathlib import Path

from webapp.decoding import wire
from webapp.decoding.made import NEEDS_TOO_MUCH, Made, Refused


def limit(memory: int) -> None:
    """At most so many bytes of its own, and no core."""
    with suppress(ImportError, OSError, ValueError):
        import resource

        # What it takes for itself, and not the libraries that it shares, where the system counts so.
        resource.setrlimit(resource.RLIMIT_DATA, (memory, memory))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def holds_much(memory: int) -> bool:
    """Whether more than a third of it is still held: better to begin again than to keep what was not given back."""
    with suppress(OSError, ValueError, IndexError):
        pages = int(Path("/proc/self/statm").read_text().split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") > memory / 3
    return False


def limit_time(seconds: int) -> None:
    """End this process where the next file takes longer, even if nobody is left to end it."""
    with suppress(ImportError, OSError, ValueError):
        import resource

        used = resource.getrusage(resource.RUSAGE_SELF)
        until = int(used.ru_utime + used.ru_stime) + seconds
        resource.setrlimit(resource.RLIMIT_CPU, (until, resource.getrlimit(resource.RLIMIT_CPU)[1]))


def main() -> None:
    """Open files until standard input ends."""
    limits = json.loads(sys.argv[1])
    # Whatever a library may print is no answer.
    files, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    logging.disable(logging.ERROR)  # libraries complain of each thing that is wrong in a damaged file
    from webapp.decoding.opening import opened

    limit(limits["memory"])
    while (sent := wire.read_file(files)) is not None:
        limit_time(limits["seconds"])
        answer: Made | Refused
        try:
            answer = opened(sent)
        except Refused as refused:
            answer = refused
        except MemoryError:
            answer = Refused(NEEDS_TOO_MUCH)
        except Exception as error:
            sys.stderr.write(f"a file could not be opened: {error!r}"[:300] + "\n")
            answer = Refused("It can't be opened: it may be damaged. Send it again, or another way.")
        del sent
        is_last = holds_much(limits["memory"]) or str(answer) == NEEDS_TOO_MUCH
        wire.write_answer(answers, answer, is_last)
        if is_last:
            break


if __name__ == "__main__":
    main()
