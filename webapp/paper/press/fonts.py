"""The typefaces of our papers, read from their installed packages (signs of music: our own); nothing is
installed on the system."""

from pathlib import Path

import font_source_sans_pro
import font_source_serif_pro

from webapp.paper.press import signs

_SIGNS = "signs.ttf"
SANS = "Source Sans Pro"
SERIF = "Source Serif Pro"

_FOLDERS = {
    SANS: Path(font_source_sans_pro.__file__).parent / "files",
    SERIF: Path(font_source_serif_pro.__file__).parent / "files",
}
_FACES = [
    (SANS, 400, "normal", "SourceSansPro-Regular.ttf"),
    (SANS, 400, "italic", "SourceSansPro-It.ttf"),
    (SANS, 600, "normal", "SourceSansPro-Semibold.ttf"),
    (SANS, 700, "normal", "SourceSansPro-Bold.ttf"),
    (SERIF, 400, "normal", "SourceSerifPro-Regular.ttf"),
    (SERIF, 600, "normal", "SourceSerifPro-Semibold.ttf"),
    (SERIF, 700, "normal", "SourceSerifPro-Bold.ttf"),
]
# A scheme of our own: only the fetcher of the style sheets knows it, so no document can ask for a file by it.
SCHEME = "typeface:"


def font_faces() -> str:
    """The @font-face rules for all faces."""
    rule = '@font-face {{ font-family: "{}"; font-weight: {}; font-style: {}; src: url("{}{}"); }}'
    faces = [*_FACES, (signs.FAMILY, 400, "normal", _SIGNS)]
    return "\n".join(rule.format(family, weight, style, SCHEME, name) for family, weight, style, name in faces)


def font_file(address: str) -> bytes:
    """The bytes behind one of the addresses in `font_faces`. Raises ValueError for any other."""
    if address == SCHEME + _SIGNS:
        return signs.font_bytes()
    for family, _, _, name in _FACES:
        if address == SCHEME + name:
            return (_FOLDERS[family] / name).read_bytes()
    raise ValueError(f"not one of our typefaces: {address[:80]}")
