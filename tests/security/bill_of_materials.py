"""Writes the software bill of materials: every pinned package with the digests of its files, as CycloneDX 1.6 (JSON).

    python -m tests.security.bill_of_materials [FILE]           # default: flutebench.cdx.json

The same pins give the same file. What the operating system brings (see webapp/system_packages.py) is not in it.
"""

import subprocess
import sys
from pathlib import Path

from webapp.bootstrap import DIGESTS, PYPROJECT


def write(into: Path, validate: bool = True) -> None:
    """Raises CalledProcessError where it can't be made, or is not valid."""
    program = [sys.executable, "-W", "ignore", "-m", "cyclonedx_py", "requirements", str(DIGESTS)]
    options = ["--pyproject", str(PYPROJECT), "--spec-version", "1.6", "--output-reproducible", "-o", str(into)]
    subprocess.run([*program, *options, "--validate" if validate else "--no-validate"], check=True)


if __name__ == "__main__":
    target = Path(sys.argv[1] if len(sys.argv) > 1 else "flutebench.cdx.json")
    write(target)
    print(f"written and valid: {target}")
