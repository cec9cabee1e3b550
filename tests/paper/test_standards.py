"""Papers that others can trust: PDF/UA-1 and PDF/A-3, as far as the structure read back can tell.

Sources: ISO 14289-1 (PDF/UA-1), clauses 5 and 7; ISO 19005-3 (PDF/A-3), 6.2.11 (fonts), 6.6 (metadata), 6.8 (attached
files), 6.7 (level A); ISO 32000-1, 14.7 (structure). Clauses from memory.
"""

import json
import re
from collections import Counter
from collections.abc import Iterator
from io import BytesIO
from typing import Any
from xml.etree import ElementTree

import pytest
from fontTools.ttLib import TTFont
from pypdf import PdfReader
from pypdf.generic import ContentStream

from acoustics.commands import predict
from acoustics.flute.instrument import Instrument
from tests.paper.conftest import Printed
from tests.paper.reading import fonts, text
from tests.paper.test_press import sheet
from webapp.models import Paper, Units
from webapp.paper.press import signs
from webapp.paper.press.workers import Press

PDFA, PDFUA = "{http://www.aiim.org/pdfa/ns/id/}", "{http://www.aiim.org/pdfua/ns/id/}"


@pytest.fixture(scope="module")
def traveler(printed: Any) -> Printed:
    made: Printed = printed("ordinary", Paper.LETTER, Units.INCH)
    return made


def elements(node: Any) -> Iterator[Any]:
    """All structure elements under one, it first."""
    node = node.get_object() if hasattr(node, "get_object") else node
    if not isinstance(node, dict):
        return
    yield node
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        yield from elements(kid)


def test_it_says_which_standards_it_keeps_to(traveler: Printed) -> None:
    root = PdfReader(BytesIO(traveler.pdf)).trailer["/Root"]
    found = ElementTree.fromstring(root["/Metadata"].get_object().get_data())
    said = {name: value for one in found.iter() for name, value in one.attrib.items()}
    assert (said[PDFA + "part"], said[PDFA + "conformance"], said[PDFUA + "part"]) == ("3", "A", "1")
    assert root["/MarkInfo"]["/Marked"] and root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert root["/Lang"] == "en"
    assert root["/OutputIntents"][0]["/S"] == "/GTS_PDFA1"


def test_everything_on_it_is_tagged_or_marked_as_decoration(traveler: Printed) -> None:
    reader = PdfReader(BytesIO(traveler.pdf))
    kinds = Counter(one.get("/S") for one in elements(reader.trailer["/Root"]["/StructTreeRoot"]))
    assert {"/H1", "/P", "/Table", "/TR", "/TH", "/TD", "/Figure"} <= kinds.keys()
    for page in reader.pages:
        assert "/StructParents" in page
        inside, outside = 0, []
        for _, operator in ContentStream(page.get_contents(), reader).operations:
            inside += (operator in (b"BDC", b"BMC")) - (operator == b"EMC")
            if operator in (b"Tj", b"TJ") and not inside:
                outside.append(operator)
        assert inside == 0 and outside == []


def test_every_picture_has_words(traveler: Printed) -> None:
    tree = PdfReader(BytesIO(traveler.pdf)).trailer["/Root"]["/StructTreeRoot"]
    figures = [one for one in elements(tree) if one.get("/S") == "/Figure"]
    assert figures and all(one.get("/Alt") for one in figures)


def test_the_flute_travels_with_it_for_the_engine(traveler: Printed) -> None:
    reader = PdfReader(BytesIO(traveler.pdf))
    serial = traveler.sent.serial
    document = json.loads(reader.attachments[f"{serial}.json"][0])
    assert Instrument.from_json(document["instrument"]) == traveler.sent.instrument
    assert predict(document)["notes"]
    (file,) = reader.trailer["/Root"]["/AF"]
    assert file.get_object()["/AFRelationship"] == "/Data"


def test_signs_of_music_come_from_us_on_every_machine(press: Press) -> None:
    """U+266D to U+266F (Unicode, Miscellaneous Symbols), in a typeface that has them and nothing else."""
    with TTFont(BytesIO(signs.font_bytes())) as font:
        assert font.getBestCmap().keys() == {0x266D, 0x266E, 0x266F}
    pdf = press.print(sheet("<p>F♯4, <b>B♭4</b> and <i>C♮5</i></p><h1>A♯3</h1>"))
    assert re.sub(r"\s", "", text(pdf)) == "F♯4,B♭4andC♮5A♯3"
    families = {name.split("+")[1] for name in fonts(pdf)}
    assert all(name.startswith(("Source-", "Flutebench-Signs")) for name in families), families
    assert any(name.startswith("Flutebench-Signs") for name in families)
