"""QR codes are read back by an independent reader (ZXing), after ISO/IEC 18004:2015."""

import re

import pytest
from PIL import Image, ImageDraw

from tests.paper.reading import codes
from webapp.paper.press.qr import QUIET, qr_svg

ADDRESS = "http://192.168.1.20:8000/blanks/AL-0042"


def drawn(svg: str, pixels: int) -> Image.Image:
    side = int(re.search(r'viewBox="0 0 (\d+) ', svg)[1])  # type: ignore[index]
    image = Image.new("L", (pixels * side, pixels * side), 255)
    pen = ImageDraw.Draw(image)
    for x, y, width in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", svg):
        left, top = int(x) * pixels, int(y) * pixels
        pen.rectangle((left, top, left + int(width) * pixels - 1, top + pixels - 1), fill=0)
    return image


@pytest.mark.parametrize("address", [ADDRESS, "https://flutes.example:8443/blanks/ALDER-2026-00142?a=ü&b=<1>"])
def test_it_says_the_address(address: str) -> None:
    assert codes(drawn(qr_svg(address, 25, "page"), 6)) == [address]


def test_a_smear_over_a_tenth_of_it_does_no_harm() -> None:
    image = drawn(qr_svg(ADDRESS, 25, "page"), 8)
    side = image.width
    pen = ImageDraw.Draw(image)
    pen.rectangle((0.42 * side, 0.42 * side, 0.68 * side, 0.68 * side), fill=255)
    assert codes(image) == [ADDRESS]


def test_it_keeps_its_quiet_zone_and_its_size() -> None:
    svg = qr_svg(ADDRESS, 25, "page <1>")
    assert 'width="25mm" height="25mm"' in svg
    assert "<title>page &lt;1&gt;</title>" in svg
    assert min(int(x) for x in re.findall(r"M(\d+) ", svg)) == QUIET
