"""Whatever stands in a typed field is printed as it was typed; no paper asks for anything because of it."""

from io import BytesIO
from itertools import cycle

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient
from pypdf import PdfReader
from sqlmodel import SQLModel
from sqlmodel.sql.sqltypes import AutoString

from tests.paper.blanks import Wanted, put_on_the_bench
from tests.shops import OpenShop

# What is read by the program, not by people: it can't be typed freely.
NOT_TYPED = {
    "timezone", "currency", "sign_in_name", "serial", "file_name", "sha256", "password_hash", "code_secret", "key",
    "kind", "unit", "language", "subject", "went_to",
}  # fmt: skip
HOSTILE = [
    '<img src="file:///etc/hostname">',
    "<img src=http://127.0.0.1:9/x>",
    '"><link rel="attachment" href="file:///etc/hostname">',
    "</style><style>@import url(//127.0.0.1:9/x)",
    "' style='background:url(file:///etc/hostname)",
    "<svg><image href=data:image/svg+xml,x /></svg>",
    "<a href='javascript:x'>../../etc/hostname</a>",
    "\\u003cimg src=x\\u003e {{7*7}} ${7*7}",
]


def _type_everywhere(connection: sa.Connection) -> int:
    """Into every field of free text that has something in it already, one text after the other; gives how many."""
    typed, texts = 0, cycle(HOSTILE)
    for table in SQLModel.metadata.sorted_tables:
        if table.name in ("search_row", "event", "submission", "person", "sign_in"):
            continue
        for column in table.columns:
            free = isinstance(column.type, AutoString) and not column.primary_key and not column.foreign_keys
            if free and column.name not in NOT_TYPED and not column.name.endswith(("digest", "hash", "mark")):
                changed = table.update().where(column.is_not(None), column != "")
                text = next(texts)
                # Names have to differ.
                value = sa.literal(text) + sa.cast(table.c.id, sa.String) if "id" in table.c else text
                typed += connection.execute(changed.values({column.name: value})).rowcount > 0
    return typed


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_it_is_printed_as_it_was_typed(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        put_on_the_bench(session, Wanted(blanks=1))
    with open_shop.database.write() as session:
        assert _type_everywhere(session.connection()) > 15
    papers = ["/blanks/AL-0042/tuning.pdf", "/orders/7/quote.pdf", "/stock/count.pdf"]
    found = {}
    for address in papers:
        answer = client.get(address)
        assert answer.status_code == 200, (address, answer.text[-500:])
        reader = PdfReader(BytesIO(answer.content))
        found[address] = "".join("".join(page.extract_text() for page in reader.pages).split())
        assert not reader.attachments
        links = [note.get_object().get("/A", {}) for page in reader.pages for note in page.get("/Annots", [])]
        assert not [
            link for link in links if link.get("/URI", "http://testserver").startswith("http://testserver") is False
        ]
    everything = "".join(found.values())
    printed = [text for text in HOSTILE if "".join(text.split()) in everything]
    assert len(printed) >= 3, printed
