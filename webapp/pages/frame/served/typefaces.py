"""The typefaces of the pages as WOFF2, cut from the installed ones in two parts: what nearly every page needs, and the
rest, which a browser fetches where a name is written with it.

Cut when first asked for, and kept: that takes a second or two for each.
"""

import hashlib
import logging
import os
import tempfile
import threading
from collections.abc import Iterator
from functools import cache
from io import BytesIO
from pathlib import Path

import font_source_sans_pro
import font_source_serif_pro

from webapp.cache_folder import cache_folder

log = logging.getLogger("flutebench")

FACES = {
    path.stem: path
    for package in (font_source_sans_pro, font_source_serif_pro)
    for path in (Path(package.__file__).parent / "files").glob("*.ttf")
}
# The ranges stand in static/tokens.css too, as `unicode-range`; a test compares them.
USUAL = ((0x0000, 0x024F), (0x2000, 0x20CF), (0x2100, 0x22FF), (0x25A0, 0x266F))
ENDINGS = {"-usual": True, "-more": False}
FEATURES = ["kern", "liga", "mark", "mkmk", "ccmp", "locl", "tnum", "lnum", "pnum", "frac", "ordn", "sups", "subs"]
# Raise it when what is cut changes: browsers keep a file for a year under its address.
CUT = 1
_one_at_a_time = threading.Lock()


@cache
def mark() -> str:
    """What stands in the addresses, and changes with the typefaces and with how they are cut."""
    digest = hashlib.sha256(f"{CUT} {USUAL} {FEATURES}".encode())
    for path in sorted(FACES.values()):
        digest.update(f"{path.name} {path.stat().st_size}".encode())
    return digest.hexdigest()[:12]


@cache
def woff2(name: str) -> bytes | None:
    """The part of a typeface behind a name such as `SourceSansPro-Regular-usual.woff2`; None for any other."""
    stem, _, ending = name.partition(".")
    face, dash, part = stem.rpartition("-")
    usual = ENDINGS.get(dash + part)
    if ending != "woff2" or usual is None or face not in FACES:
        return None
    folder = cache_folder("typefaces")
    kept = folder / f"{mark()}-{name}" if folder else None
    if kept and kept.is_file():
        return kept.read_bytes()
    with _one_at_a_time:
        made = _cut(FACES[face], usual)
    if kept:
        _keep(kept, made)
    return made


def _cut(path: Path, usual: bool) -> bytes:
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    logging.getLogger("fontTools").setLevel(logging.ERROR)  # it reports every table that it drops
    options = Options()
    options.flavor = "woff2"
    options.layout_features = FEATURES
    options.hinting = False
    options.name_IDs = [0, 13, 14]  # whose it is, and under which licence
    with TTFont(path, lazy=True) as font:
        has = set(font.getBestCmap())
        cutter = Subsetter(options)
        cutter.populate(unicodes=has & set(_usual()) if usual else has - set(_usual()))
        cutter.subset(font)
        font.flavor = "woff2"
        out = BytesIO()
        font.save(out)
    return out.getvalue()


def _usual() -> Iterator[int]:
    for first, last in USUAL:
        yield from range(first, last + 1)


def _keep(path: Path, content: bytes) -> None:
    """Whole or not at all, so that a second process never reads half of it; without it, it is cut again."""
    try:
        handle, partial = tempfile.mkstemp(dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(partial).replace(path)
    except OSError as error:
        log.info("a typeface could not be kept in %s: %s", path.parent, error)
