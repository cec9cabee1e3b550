"""The list of requirements in asvs/, read. `python -m tests.security.requirements` prints what is not met.

OWASP Application Security Verification Standard 4.0.3, October 2021 (CC BY-SA 4.0): its numbers and levels, with each
requirement in a few words of our own. It is answered in one of four ways: `tests` that show it; `how` it is met where
no test can show it, with the files that do (`where`); why it does `not_for_us` apply; or why it is `unmet`.
"""

import tomllib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).parent / "asvs"
WAYS = ("tests", "how", "not_for_us", "unmet")
FIELDS = {"level", "asks", "where", "note", *WAYS}


@dataclass(frozen=True)
class Requirement:
    number: str
    file: str
    said: dict[str, object]

    @property
    def chapter(self) -> int:
        return int(self.number.split(".")[0])

    @property
    def way(self) -> str:
        """The one way in which it is answered. Raises ValueError where there is none, or several."""
        found = [way for way in WAYS if way in self.said]
        if len(found) != 1:
            raise ValueError(f"{self.number} is answered in {len(found)} ways")
        return found[0]


def requirements() -> list[Requirement]:
    return [
        Requirement(number, path.name, said)
        for path in sorted(FOLDER.glob("v*.toml"))
        for number, said in tomllib.loads(path.read_text()).items()
    ]


def told() -> str:
    """What is not met, and how many are answered how."""
    found = requirements()
    lines = [
        f"{one.number} (level {one.said['level']}) {one.said['asks']}\n    unmet: {one.said['unmet']}"
        for one in found
        if one.way == "unmet"
    ]
    sums = Counter(one.way for one in found)
    lines.append(f"{len(found)} requirements: " + ", ".join(f"{sums[way]} {way}" for way in WAYS))
    return "\n".join(lines)


if __name__ == "__main__":
    print(told())
