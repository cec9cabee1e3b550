"""Small things that are huge once they are unpacked, or deep without an end: refused at once, and nothing is held up.

Pictures and sound have tests of their own: tests/shop/blanks/test_pictures.py, tests/decoding/,
tests/acoustics/listening/test_listening_files.py.
Sources: OWASP ASVS 4.0.3, 12.1.2; ISO 32000-1, 7.5.8 (cross-reference streams).
"""

import zlib

import pytest
from fastapi.testclient import TestClient

from tests.fuzz.patience import within
from tests.shops import OpenShop
from webapp.decoding.made import Refused
from webapp.decoding.opening import opened
from webapp.shop.people import tokens
from webapp.shop.people.tokens import Scope, TokenAsked


def pdf_that_unpacks_to(megabytes: int, packed_twice: bool) -> bytes:
    """A PDF whose table of objects is a packed stream of nothing."""
    packer = zlib.compressobj(9)
    data = b"".join(packer.compress(bytes(1 << 20)) for _ in range(megabytes)) + packer.flush()
    how = b"[/FlateDecode /FlateDecode]" if packed_twice else b"/FlateDecode"
    data = zlib.compress(data, 9) if packed_twice else data
    head = b"%PDF-1.7\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n2 0 obj<</Type/Pages/Kids[]/Count 1>>endobj\n"
    table = b"3 0 obj<</Type/XRef/Size 4/W[1 4 2]/Root 1 0 R/Filter" + how + b"/Length %d>>stream\n" % len(data)
    return head + table + data + b"\nendstream endobj\nstartxref\n%d\n%%%%EOF\n" % len(head)


@pytest.mark.parametrize("packed_twice", [False, True])
def test_a_pdf_that_unpacks_without_end_is_refused(packed_twice: bool) -> None:
    sent = pdf_that_unpacks_to(200, packed_twice)
    assert len(sent) < 300_000
    with within(3.0), pytest.raises(Refused, match="PDF can't be read"):
        opened(sent)


@pytest.mark.parametrize(
    "content",
    [
        b"%PDF-1.7\n1 0 obj" + b"[" * 100_000 + b"]" * 100_000 + b"endobj\ntrailer<</Root 1 0 R/Size 3>>\n%%EOF",
        b"%PDF-1.7\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n2 0 obj<</Type/Pages/Kids[2 0 R]/Count 9999999>>"
        b"endobj\ntrailer<</Root 1 0 R/Size 3>>\n%%EOF",
        b"%PDF-1.7\n" + b"1 0 obj<<>>endobj\n" * 40_000,
    ],
)
def test_a_pdf_without_an_end_is_refused(content: bytes) -> None:
    with within(3.0), pytest.raises(Refused):
        opened(content)


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize("text", ["[" * 200_000, '{"a":' * 40_000, "[" + "1e9," * 100_000 + "1]", "9" * 300_000])
def test_a_document_that_is_deep_or_long_is_refused(client: TestClient, open_shop: OpenShop, text: str) -> None:
    with open_shop.database.write() as session:
        key = tokens.make(session, open_shop.owner, TokenAsked(name="x", scopes=[Scope.WORK]))[1]
    headers = {"authorization": f"Bearer {key}", "content-type": "application/json"}
    with within(5.0):
        assert client.post("/patterns/import", data={"document": text}).status_code in (413, 422)
        assert client.post("/api/v1/patterns", content=text, headers=headers).status_code in (400, 413, 415, 422)
