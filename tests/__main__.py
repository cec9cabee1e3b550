"""`python3 -m tests`: make what is missing, then run the whole test suite; arguments go to pytest."""

import sys

if sys.version_info < (3, 11):  # noqa: UP036  an older Python must get this line, not a syntax error
    sys.exit("Flutebench needs Python 3.11 or newer; this is Python " + sys.version.split()[0] + ".")

from tests.programs import find_chromium, find_postgresql
from webapp.bootstrap import prepared
from webapp.system_packages import Need, loadable

CHROMIUM = Need(
    "a Chromium, in which the tests look at the pages",
    lambda: find_chromium() is not None,
    {
        "apt-get": ["chromium"],
        "dnf": ["chromium"],
        "zypper": ["chromium"],
        "pacman": ["chromium"],
        "apk": ["chromium"],
        "brew": ["google-chrome"],
    },
    "Any Chromium or Chrome in the search path will do.",
)
DRIVER = Need(
    "the library libatomic, which Playwright's driver needs to drive it",
    lambda: loadable(["libatomic.so.1"]),
    {
        "apt-get": ["libatomic1"],
        "dnf": ["libatomic"],
        "zypper": ["libatomic1"],
        "pacman": ["gcc-libs"],
        "apk": ["libatomic"],
    },
)
POSTGRESQL = Need(
    "a PostgreSQL server, which the tests start for themselves",
    lambda: find_postgresql() is not None,
    {
        "apt-get": ["postgresql"],
        "dnf": ["postgresql-server"],
        "zypper": ["postgresql-server"],
        "pacman": ["postgresql"],
        "apk": ["postgresql"],
        "brew": ["postgresql"],
    },
    "Any PostgreSQL from version 13 whose initdb is in the search path will do.",
)
# Debuggers need the terminal, and pytest-xdist's own options say that somebody knows better.
ONE_PROCESS = ("-n", "--numprocesses", "--dist", "--pdb", "--trace", "--collect-only", "--co")


def arguments(given: list[str]) -> list[str]:
    """What pytest is run with: two processes, unless the arguments speak against it."""
    if any(word.startswith(ONE_PROCESS) for word in given):
        return given
    return ["-n", "2", "--dist", "worksteal", *given]


if __name__ == "__main__":
    prepared("tests", ["test"], [CHROMIUM, DRIVER, POSTGRESQL])
    import pytest

    sys.exit(pytest.main(arguments(sys.argv[1:])))
