"""Changes the rules that guard the shop one small thing at a time, and prints how many of the changes the tests notice.

    python -m tests.load.mutants [--seconds 900] [webapp.shop.people.door webapp.security.sealing ...]

By mutmut (install it into an environment of its own, or with the extra `mutants`), in a scratch copy of what is
committed, on SQLite alone. Without names, all of what GUARDS lists is changed, which takes hours. Those that were not
noticed are named; `mutmut show NAME` in the scratch copy (--keep) says what was changed.
"""

import argparse
import os
import re
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
GUARDS = ("webapp/shop/people/*.py", "webapp/security/*.py", "webapp/keeping/backups/*.py", "webapp/keeping/hold/*.py")
TESTS = (
    "tests/shop/people",
    "tests/pages/people",
    "tests/security/test_door_details.py",
    "tests/security/test_guessing.py",
    "tests/security/test_hosts.py",
    "tests/security/test_passwords.py",
    "tests/security/test_refusals.py",
    "tests/security/test_sealing.py",
    "tests/security/test_secrets.py",
    "tests/security/test_transport.py",
)
OF_KEEPING = ("tests/keeping/test_backups.py", "tests/keeping/test_hostile_backups.py", "tests/keeping/test_in_use.py")


def settings(keeping: bool) -> str:
    """What mutmut is told; the tests of `keeping` take longer, so they run only where that is changed."""
    tests = [*TESTS, *(OF_KEEPING if keeping else ())]
    return f"""
[tool.mutmut]
source_paths = ["webapp"]
only_mutate = {list(GUARDS)}
also_copy = ["acoustics", "migrations", "static", "seed_demo", "DEVELOPERS.md", "README.md", ".ci"]
pytest_add_cli_args = ["-k", "not postgresql", "-p", "no:cacheprovider", "-W", "ignore"]
pytest_add_cli_args_test_selection = {tests}
mutate_only_covered_lines = true
track_dependencies = false
use_git_change_detection = false
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=int, default=8 * 3600, help="stop after so long; what was tried counts")
    parser.add_argument("--keep", type=Path, help="a folder for the scratch copy, kept")
    parser.add_argument("modules", nargs="*", help="modules to change, as Python names them")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = asked.keep or Path(scratch)
        folder.mkdir(exist_ok=True)
        packed = subprocess.run(["git", "archive", "HEAD"], cwd=ROOT, check=True, stdout=subprocess.PIPE).stdout
        subprocess.run(["tar", "x", "-C", folder], input=packed, check=True)
        keeping = not asked.modules or any("keeping" in name for name in asked.modules)
        with (folder / "pyproject.toml").open("a") as file:
            file.write(settings(keeping))
        mutmut = [sys.executable, "-m", "mutmut"]
        names = [f"{name}.*" for name in asked.modules]
        running = subprocess.Popen([*mutmut, "run", "--max-children", "1", *names], cwd=folder, start_new_session=True)
        try:
            running.wait(asked.seconds)
        except subprocess.TimeoutExpired:
            os.killpg(running.pid, signal.SIGTERM)
            running.wait()
        told = subprocess.run([*mutmut, "results", "--all", "true"], cwd=folder, capture_output=True, text=True).stdout
    print("\n" + summed_up(told))


def summed_up(told: str) -> str:
    """By module: how many were noticed of those that were tried; and the names of the others."""
    found = re.findall(r"^\s*(\S+): ([\w ]+)$", told, re.M)
    tried = [(name, fate) for name, fate in found if fate != "not checked"]
    noticed = Counter(name.rsplit(".", 1)[0] for name, fate in tried if fate in ("killed", "timeout", "suspicious"))
    all_of = Counter(name.rsplit(".", 1)[0] for name, _ in tried)
    lines = [f"{name}: {fate}" for name, fate in tried if fate not in ("killed", "timeout", "suspicious")]
    lines += [f"{module:40}{noticed[module]:6} of {count:5} noticed" for module, count in sorted(all_of.items())]
    whole = f"{100 * noticed.total() / max(all_of.total(), 1):.0f} %"
    lines.append(f"{noticed.total()} of {all_of.total()} changes noticed ({whole}); {len(found)} could be made in all")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
