"""Asks what is known to be weak in the pinned packages, by pip-audit.

    python -m tests.security.weaknesses                         # asks the OSV service
    python -m tests.security.weaknesses --advisories all.zip    # asks a copy of its data, without a network

Ends with 0 where every package was looked up and nothing is known, 1 where something is, and 2 where not all of them
could be looked up: that nothing was found means nothing then.
"""

import argparse
import json
import os
import subprocess
import sys
import zipfile
from contextlib import nullcontext
from pathlib import Path

from tests.security.advisories import Advisories, answering
from webapp.bootstrap import PINS

SERVICE = "https://api.osv.dev/v1/query"
FOUND, NOT_ASKED = 1, 2


def audit(pins: Path, service: str, seconds: int = 15) -> tuple[int, str]:
    """How it ends, and what there is to say."""
    program = [sys.executable, "-m", "pip_audit", "--requirement", str(pins), "--no-deps", "--disable-pip"]
    program += ["--vulnerability-service", "osv", "--osv-url", service, "--timeout", str(seconds)]
    environment = os.environ | ({"NO_PROXY": "127.0.0.1"} if service != SERVICE else {})
    done = subprocess.run(
        [*program, "--format", "json", "--progress-spinner", "off"], capture_output=True, text=True, env=environment
    )
    try:
        told = json.loads(done.stdout)["dependencies"]
    except (json.JSONDecodeError, KeyError, TypeError):
        why = (done.stderr.strip().splitlines() or ["it said nothing"])[-1]
        return NOT_ASKED, f"NOTHING WAS LOOKED UP: no advisories could be reached at {service}\n    {why[:300]}"
    asked = {line.split("==")[0] for line in pins.read_text().splitlines() if "==" in line}
    answered = [one for one in told if "vulns" in one]
    lines = [
        f"{one['name']} {one['version']}: {weak['id']} ({', '.join(weak['aliases']) or 'no other name'})\n"
        f"    {weak['description'][:200]}\n    mended in: {', '.join(weak['fix_versions']) or 'no version yet'}"
        for one in answered
        for weak in one["vulns"]
    ]
    found = len(lines)
    lines.append(f"{len(answered)} of {len(asked)} pinned packages looked up: {found} known weaknesses")
    if len(answered) < len(asked):
        left = [f"{one['name']} ({one.get('skip_reason', '')})" for one in told if "vulns" not in one]
        lines.append(f"NOT ALL WERE LOOKED UP: {', '.join(left)[:2000]}")
        return NOT_ASKED, "\n".join(lines)
    return (FOUND if found else 0), "\n".join(lines)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--advisories", type=Path, help="a folder or zip of advisories in the OSV format")
    asked = parser.parse_args()
    place = nullcontext(SERVICE)
    if asked.advisories:
        try:
            known = Advisories(asked.advisories)
        except (OSError, ValueError, zipfile.BadZipFile) as error:
            print(f"NOTHING WAS LOOKED UP: {asked.advisories} could not be read ({error})")
            return NOT_ASKED
        if not known.number:
            print(f"NOTHING WAS LOOKED UP: {asked.advisories} holds no advisory about a package of PyPI")
            return NOT_ASKED
        print(f"{known.number} advisories in {asked.advisories}, the newest of {known.newest[:10] or 'no date'}")
        place = answering(known)
    with place as service:
        code, said = audit(PINS, service)
    print(said)
    return code


if __name__ == "__main__":
    sys.exit(main())
