"""What goes over the wire: compressed where that is safe, typefaces in the parts that are needed, kept for a year.

Sources: RFC 9110, 8.4 and 12.5.3 (encodings); RFC 1952 (gzip); CSS Fonts 4, 4.5 (unicode-range); W3C WOFF2.
"""

import gzip
import re
from io import BytesIO
from itertools import pairwise

import pytest
from fastapi.testclient import TestClient
from fontTools.ttLib import TTFont

from webapp.pages.frame.rendering import STATIC, asset, library
from webapp.pages.frame.served import typefaces
from webapp.serving.compression import packed, takes_gzip

TOKENS = (STATIC / "tokens.css").read_text()


def encoding(client: TestClient, address: str, accepts: str = "gzip, br") -> str:
    answer = client.get(address, headers={"accept-encoding": accepts})
    assert answer.status_code == 200, address
    return answer.headers.get("content-encoding", "")


@pytest.mark.parametrize("address", ["/", "/orders", "/blanks", "/stock", "/guide/first-day"])
def test_a_page_is_compressed_for_who_takes_it(client: TestClient, address: str) -> None:
    plain = client.get(address, headers={"accept-encoding": "identity"})
    small = client.get(address, headers={"accept-encoding": "gzip"})
    assert (plain.headers.get("content-encoding"), small.headers["content-encoding"]) == (None, "gzip")
    assert "accept-encoding" in plain.headers["vary"].lower() and "accept-encoding" in small.headers["vary"].lower()
    assert int(small.headers["content-length"]) < 0.5 * len(plain.content)
    once = re.compile(r'name="once" value="[^"]+"')
    assert once.sub("", small.text) == once.sub("", plain.text)


def test_what_came_along_with_words_or_shows_a_secret_is_not_compressed(client: TestClient) -> None:
    """BREACH needs a secret and words of the asker's in one compressed answer (see webapp/serving/compression.py)."""
    assert encoding(client, "/orders?q=something") == ""
    for address in ("/me", "/me/second-step", "/me/calendar", "/me/keys", "/shop/people/1"):
        assert encoding(client, address) == "", address
    refused = client.post("/stock/new", data={"name": "x" * 2000}, headers={"accept-encoding": "gzip"})
    assert refused.status_code == 422 and "content-encoding" not in refused.headers


def test_the_length_of_a_compressed_answer_says_little() -> None:
    body = b"The same words again. " * 200
    made = [packed(body) for _ in range(40)]
    assert {gzip.decompress(one) for one in made} == {body}
    lengths = {len(one) for one in made}
    assert len(lengths) > 20 and max(lengths) - min(lengths) <= 100


@pytest.mark.parametrize(
    ("accepted", "taken"),
    [
        *((yes, True) for yes in ("gzip", "br, GZIP;q=0.5", "x-gzip", "gzip;q=0.01")),
        *((no, False) for no in ("gzip;q=0", "gzip; q=0.000", "br", "", "identity")),
    ],
)
def test_who_takes_gzip(accepted: str, taken: bool) -> None:
    assert takes_gzip(accepted) == taken


def test_our_files_are_compressed_and_kept_for_a_year(client: TestClient) -> None:
    for address in (asset("page.css"), asset("page.js"), asset("icons.svg"), library("htmx")):
        plain = client.get(address, headers={"accept-encoding": "identity"})
        small = client.get(address, headers={"accept-encoding": "gzip"})
        assert plain.content == small.content and small.headers["content-encoding"] == "gzip", address
        assert small.headers["cache-control"] == "public, max-age=31536000, immutable"
        assert small.headers["vary"] == "Accept-Encoding"
        assert int(small.headers["content-length"]) < len(plain.content)
    assert encoding(client, asset("guide/rack.png")) == "", "a picture is compressed already"


def test_the_style_sheet_names_the_typefaces_as_they_are_cut_now() -> None:
    rules = re.findall(r"url\(\"/fonts/(\w+)/([\w-]+)-(usual|more)\.woff2\"\).*?unicode-range: ([^;]+);", TOKENS, re.S)
    assert len(rules) == 14 and TOKENS.count("@font-face") == 14
    assert {mark for mark, *_ in rules} == {typefaces.mark()}
    ranges = {part: [tuple(int(end, 16) for end in one[2:].split("-")) for one in said.split(", ")]
              for _, _, part, said in rules}  # fmt: skip
    assert ranges["usual"] == list(typefaces.USUAL)
    together = sorted(ranges["usual"] + ranges["more"])
    assert together[0][0] == 0 and together[-1][1] == 0x10FFFF
    assert all(one[1] + 1 == next_one[0] for one, next_one in pairwise(together))


def test_both_parts_of_a_typeface_are_the_whole_of_it(client: TestClient) -> None:
    """Each character once, as wide as it was, so that nothing moves where a part comes in."""
    with TTFont(typefaces.FACES["SourceSansPro-Regular"]) as whole:
        wanted = {code: whole["hmtx"][glyph][0] for code, glyph in whole.getBestCmap().items()}
    found: dict[int, int] = {}
    for part in ("usual", "more"):
        answer = client.get(f"/fonts/{typefaces.mark()}/SourceSansPro-Regular-{part}.woff2")
        assert answer.headers["content-type"] == "font/woff2" and answer.content[:4] == b"wOF2"
        assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"
        assert len(answer.content) < 35_000
        with TTFont(BytesIO(answer.content)) as font:
            cut = {code: font["hmtx"][glyph][0] for code, glyph in font.getBestCmap().items()}
        assert not found.keys() & cut.keys()
        if part == "usual":
            assert {ord(letter) for letter in "Aé½−×→≤′Łő"} <= cut.keys()
        found |= cut
    assert found == wanted
