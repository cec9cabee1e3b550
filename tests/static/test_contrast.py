"""The palette against WCAG 2.2 (W3C Recommendation, 2023): 1.4.3 text 4.5:1, 1.4.11 outlines and marks 3:1."""

import re
from pathlib import Path

import pytest

STATIC = Path(__file__).parents[2] / "static"
TOKENS = (STATIC / "tokens.css").read_text()
DRAWINGS = (STATIC / "drawings.css").read_text()

TEXT = [
    ("ink", "ground"), ("ink", "sheet"), ("ink", "well"), ("ink", "accent-wash"), ("ink", "draw-wood"),
    ("ink-soft", "ground"), ("ink-soft", "sheet"), ("ink-soft", "well"), ("ink-soft", "accent-wash"),
    ("accent", "ground"), ("accent", "sheet"), ("accent-ink", "accent"),
    ("red", "ground"), ("red", "sheet"), ("red", "red-wash"), ("red-ink", "red"),
    ("good", "sheet"), ("good", "ground"), ("good", "good-wash"),
    ("tape-ink", "tape"), ("tape-ink", "tape-weave"),
]  # fmt: skip
MARKS = [
    ("rule-strong", "ground"), ("rule-strong", "sheet"), ("accent", "accent-wash"), ("accent", "well"),
    ("accent", "draw-band"), ("red", "draw-band"), ("ink", "draw-band"),
]  # fmt: skip


def palette(dark: bool) -> dict[str, str]:
    found: dict[str, str] = {}
    for css in (TOKENS, DRAWINGS):
        outside, _, inside = css.partition("@media (prefers-color-scheme: dark)")
        inside = inside.partition("@media")[0]
        found |= dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", outside + (inside if dark else "")))
    return found


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_formula_on_the_ends_of_its_range() -> None:
    # WCAG 2.2, definition of contrast ratio: from 1 to 21.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#7d7464", "#7d7464") == 1


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize(("front", "back"), TEXT)
def test_words_can_be_read(front: str, back: str, dark: bool) -> None:
    colours = palette(dark)
    assert contrast(colours[front], colours[back]) >= 4.5


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize(("front", "back"), MARKS)
def test_what_can_be_touched_or_read_off_is_outlined(front: str, back: str, dark: bool) -> None:
    colours = palette(dark)
    assert contrast(colours[front], colours[back]) >= 3.0


def test_every_role_of_the_drawings_has_its_colour_on_the_page() -> None:
    from webapp.drawings.sheet.canvas import ROLES

    for role in ROLES:
        assert f".f-{role} {{ fill:" in DRAWINGS
        assert f".s-{role} {{ stroke:" in DRAWINGS


def test_no_style_sheet_reaches_outside() -> None:
    for sheet in STATIC.glob("*.css"):
        for address in re.findall(r"url\(([^)]*)\)", sheet.read_text()):
            assert address.strip("\"'").startswith("/fonts/"), f"{sheet.name}: {address}"
        assert "@import" not in sheet.read_text()
