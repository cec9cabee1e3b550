"""Every page lives under a policy without inline script or style: nothing in a template may need them."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TEMPLATES = sorted(
    path for path in (ROOT / "webapp" / "templates").rglob("*.html") if "paper" not in path.parts
)  # documents for print are never sent to a browser
NAMES = [str(path.relative_to(ROOT)) for path in TEMPLATES]

FORBIDDEN = {
    "a style attribute": r"\sstyle\s*=",
    "a style element": r"<style",
    "an inline script": r"<script(?![^>]*\ssrc=)",
    "an event attribute": r"\son[a-z]+\s*=(?!=)",
    "an htmx event attribute": r"hx-on",
    "a computed htmx value": r"\bjs:|javascript:",
    "an address outside": r"(?:src|href|action|hx-[a-z]+)\s*=\s*[\"'](?:https?:)?//",
}


@pytest.mark.parametrize("path", TEMPLATES, ids=NAMES)
@pytest.mark.parametrize("what", FORBIDDEN)
def test_no_template_needs_what_the_policy_forbids(path: Path, what: str) -> None:
    assert not re.search(FORBIDDEN[what], path.read_text(), re.IGNORECASE), f"{path.name} has {what}"


@pytest.mark.parametrize("path", TEMPLATES, ids=NAMES)
def test_every_icon_that_is_named_exists(path: Path) -> None:
    symbols = set(re.findall(r'<symbol id="([\w-]+)"', (ROOT / "static" / "icons.svg").read_text()))
    text = path.read_text()
    named = set(re.findall(r"icons\.svg'\) }}#([\w-]+)", text)) | set(re.findall(r'icon="([\w-]+)"', text))
    assert named <= symbols
