"""Files of a revision, and a pattern imported from JSON: what is exported is imported as the same flute."""

import json
from io import StringIO
from typing import Any

import ezdxf
import pytest
from fastapi.testclient import TestClient

from acoustics.flute.instrument import Instrument
from tests.pages.orders.test_orders import wrong
from tests.pages.patterns.test_patterns import ASKED
from tests.shops import signed_in

ABOUT = {"name": "imported", "key": "A4", "scale": "minor pentatonic", "a4": "440", "temperament": "equal"}


@pytest.fixture
def revision(client: TestClient) -> str:
    answer = client.post("/patterns/design", data=ASKED | {"name": '=low "F#4", 1'})
    return str(answer.url.path)


def test_a_revision_comes_as_files_with_plain_names(client: TestClient, revision: str) -> None:
    signed_in(client, "kit")
    flute = Instrument.from_json(client.get(f"{revision}/flute.json").json())
    for name, kind, ending in (
        ("layout.dxf", "image/vnd.dxf", "dxf"),
        ("layout.svg", "image/svg+xml", "svg"),
        ("dimensions.csv", "text/csv", "csv"),
        ("flute.json", "application/json", "json"),
    ):
        answer = client.get(f"{revision}/{name}")
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith(kind)
        assert answer.headers["content-disposition"] == f'attachment; filename="low-Fsharp4-1-r1.{ending}"'
        assert f"{revision}/{name}" in client.get(revision).text
        assert client.get(f"/patterns/1/9/{name}").status_code == 404
        assert client.get(f"/patterns/99999999999999/1/{name}").status_code == 404
    circles = ezdxf.read(StringIO(client.get(f"{revision}/layout.dxf").text)).modelspace().query("CIRCLE")
    assert sorted(c.dxf.center.x for c in circles) == pytest.approx([h.x for h in flute.holes], abs=0.1)
    assert "'=low" in client.get(f"{revision}/dimensions.csv").text


@pytest.mark.parametrize("how", ["pasted", "a file", "within a design"])
def test_what_went_out_comes_in_as_the_same_flute(client: TestClient, revision: str, how: str) -> None:
    flute = client.get(f"{revision}/flute.json").text
    if how == "a file":
        answer = client.post("/patterns/import", data=ABOUT, files={"file": ("flute.json", flute.encode("utf-8-sig"))})
    else:
        text = json.dumps({"instrument": json.loads(flute)}) if how == "within a design" else flute
        answer = client.post("/patterns/import", data=ABOUT | {"document": text})
    assert answer.url.path == "/patterns/2/1", answer.text
    assert client.get("/patterns/2/1/flute.json").json() == json.loads(flute)
    first, second = client.get(revision).text, answer.text
    cents = [text.split("<caption>Notes in figures")[1].split("</table>")[0] for text in (first, second)]
    assert cents[0] == cents[1], "designed and imported, the same flute is predicted alike"
    assert "Design a new revision" in second


BROKEN: list[tuple[Any, str]] = [
    ("{", "not JSON: line 1"),
    ("[1,2]", "instrument"),
    ("[" * 100_000, "nested too deep"),
    ({"bore": [[-9, 15.9], [292, 15.9]]}, "body"),
    ({"body": {"outside": "round", "wall": -1}}, "body.wall"),
    ({"body": {"outside": "round", "wall": float("nan")}}, "body.wall"),
    ({"colour": "red"}, "colour"),
    ({"holes": []}, "5 or 6 finger holes"),
    ({"holes": [{"x": 132.0, "diameter": 90.0}]}, "hole"),
]


@pytest.mark.parametrize(("change", "says"), BROKEN)
def test_what_is_wrong_with_a_document_stands_at_its_field(
    client: TestClient, revision: str, change: Any, says: str
) -> None:
    flute = client.get(f"{revision}/flute.json").json()
    text = change if isinstance(change, str) else json.dumps(change if "bore" in change else flute | change)
    answer = client.post("/patterns/import", data=ABOUT | {"document": text})
    assert answer.status_code == 422
    assert says in wrong(answer.text, "document")
    sent = client.post("/patterns/import", data=ABOUT, files={"file": ("flute.json", text.encode())})
    assert sent.status_code == 422
    assert says in wrong(sent.text, "document")


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("name", "", "fill this in"),
        ("name", '=low "F#4", 1', "of that name already"),
        ("key", "H", "a note from G3 to C6"),
        ("key", "C6", "cents below C6"),
        ("scale", "blues", "Choose one of the list"),
        ("a4", "inf", "between 390 and 470"),
        ("temperament", "odd", "Choose one of the list"),
    ],
)
def test_what_else_is_wrong_stands_at_its_field(
    client: TestClient, revision: str, field: str, typed: str, says: str
) -> None:
    flute = client.get(f"{revision}/flute.json").text
    answer = client.post("/patterns/import", data=ABOUT | {"document": flute, field: typed})
    assert answer.status_code == 422
    assert says in wrong(answer.text, field)


def test_files_that_are_no_text_are_refused(client: TestClient) -> None:
    for content, says in ((b"\xff\xfe\x00\x01", "not text"), (b" " * 200_001, "far too long")):
        answer = client.post("/patterns/import", data=ABOUT, files={"file": ("x.json", content)})
        assert answer.status_code == 422
        assert says in wrong(answer.text, "file")
    both = client.post("/patterns/import", data=ABOUT | {"document": "{}"}, files={"file": ("x.json", b"{}")})
    assert "not both" in wrong(both.text, "file")
    assert "fill this in" in wrong(client.post("/patterns/import", data=ABOUT).text, "document")


def test_someone_who_may_only_look_brings_nothing_in(client: TestClient) -> None:
    signed_in(client, "kit")
    assert client.get("/patterns/import").status_code == 403
    assert client.post("/patterns/import", data=ABOUT).status_code == 403
    assert "Import a pattern" not in client.get("/patterns").text


def test_a_flute_comes_in_as_a_further_revision_of_its_pattern(client: TestClient, revision: str) -> None:
    """Key, scale and holes are the pattern's; what is different must be explained; the old revision stays as it is."""
    flute = client.get(f"{revision}/flute.json").json()
    pattern_id = revision.split("/")[2]
    page = client.get(f"/patterns/import?pattern={pattern_id}").text
    assert "Import a revision of" in page
    assert 'name="key"' not in page
    assert f"/patterns/import?pattern={pattern_id}" in client.get(f"/patterns/{pattern_id}").text
    flute["holes"][0]["diameter"] += 0.3
    sent = {"pattern": pattern_id, "document": json.dumps(flute)}
    assert "fill this in" in wrong(client.post("/patterns/import", data=sent).text, "note").lower()
    answer = client.post("/patterns/import", data=sent | {"note": "a wider first hole"}, follow_redirects=False)
    assert answer.headers["location"] == f"/patterns/{pattern_id}/2"
    came = client.get(f"/patterns/{pattern_id}/2/flute.json").json()
    assert came["holes"][0]["diameter"] == flute["holes"][0]["diameter"]
    assert client.get(f"{revision}/flute.json").json()["holes"][0]["diameter"] < came["holes"][0]["diameter"]
    assert "a wider first hole" in client.get(f"/patterns/{pattern_id}").text
    del flute["holes"][0]
    fewer = client.post("/patterns/import", data=sent | {"note": "x", "document": json.dumps(flute)})
    assert "this pattern has 6" in wrong(fewer.text, "document")
    assert client.get("/patterns/import?pattern=999").status_code == 404
    assert client.post("/patterns/import", data=sent | {"pattern": "no"}).status_code == 404
