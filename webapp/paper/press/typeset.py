"""HTML to PDF, in a process of its own: the only module that WeasyPrint is imported in."""

import logging
import signal
from collections.abc import Sequence
from functools import cache
from io import BytesIO
from pathlib import Path

import pydyf  # type: ignore[import-untyped]
from pypdf import PdfReader, PdfWriter
from pypdf.generic import BooleanObject, DictionaryObject, NameObject, TextStringObject
from weasyprint import CSS, HTML, Attachment, Document
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from webapp.paper.press.fonts import font_faces, font_file
from webapp.paper.press.jobs import Job, UnprintableError

STYLES = Path(__file__).parents[2] / "templates" / "paper"


# ISO 14289-1, clause 5: how a document says that it keeps to PDF/UA-1.
_ALSO_UA = b"""<rdf:Description rdf:about="" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" pdfuaid:part="1" />
<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name><pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>The part of ISO 14289 that it keeps to</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property></rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>
"""


class _Outside(FatalURLFetchingError):  # type: ignore[misc]
    """Something that is not in the document itself was asked for."""


class OnlyData(URLFetcher):  # type: ignore[misc]
    """Serves data: addresses and nothing else: no file, no network. `refused` keeps what else was asked for."""

    def __init__(self) -> None:
        super().__init__(allowed_protocols=("data",), allow_redirects=False)
        self.refused: list[str] = []

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
        if not url.startswith("data:"):
            self.refused.append(url[:200])
            raise _Outside(f"the document asks for {url[:200]}")
        return super().fetch(url, headers)


class _OnlyTypefaces(URLFetcher):  # type: ignore[misc]
    """Serves our own typefaces to our own style sheets, and nothing else."""

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
        return URLFetcherResponse(url, font_file(url), {"content-type": "font/ttf"})


@cache
def _fonts() -> tuple[FontConfiguration, CSS]:
    """The fonts of this process, and the style sheet that named them; made once and used for every document."""
    config = FontConfiguration()
    return config, CSS(string=font_faces(), font_config=config, url_fetcher=_OnlyTypefaces())


@cache
def _style(name: str) -> CSS:
    return CSS(string=(STYLES / name).read_text(encoding="utf-8"), url_fetcher=OnlyData(), font_config=_fonts()[0])


def get_ready() -> None:
    """Begin a worker: leave Ctrl-C to the parent, keep quiet, load the fonts."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    logging.getLogger("weasyprint").setLevel(logging.ERROR)
    # The subsetter reports every table it drops.
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    _fonts()


def typeset(jobs: Sequence[Job]) -> bytes:
    """The documents one after another in one PDF, with their fonts shared. Raises UnprintableError."""
    if not jobs or not all(job.versions for job in jobs):
        raise UnprintableError("there is nothing to print")
    fetcher = OnlyData()
    try:
        documents = [_lay_out(job, fetcher) for job in jobs]
        pages = [page for document in documents for page in document.pages]
        result: bytes = (
            documents[0]
            .copy(pages)
            .write_pdf(
                finisher=_finish,
                pdf_variant="pdf/a-3a",
                attachments=[
                    Attachment(string=text, name=name, description=about, relationship="Data")
                    for job in jobs
                    for name, about, text in job.attached
                ],
            )
        )
    except _Outside as error:
        raise UnprintableError(str(error)) from None
    # Where a drawing asks, the library swallows the refusal and leaves a gap.
    if fetcher.refused:
        raise UnprintableError(f"the document asks for {fetcher.refused[0]}")
    return result


def _lay_out(job: Job, fetcher: OnlyData) -> Document:
    """The first version that fits, else the last."""
    config, faces = _fonts()
    styles = [faces, _style("paper.css"), _style(job.style)]
    for version in job.versions:
        document = HTML(string=version, url_fetcher=fetcher).render(font_config=config, stylesheets=styles)
        if job.at_most is None or len(document.pages) <= job.at_most:
            break
    return document


def _finish(_document: Document, pdf: pydyf.PDF) -> None:
    """Ask viewers to print at true size and to show the title; say that it is PDF/UA too.

    The library writes one standard into the metadata; PDF/A-3 (ISO 19005-3, 6.6.2.3.3) wants a description of names
    that it does not know beside them.
    """
    if "AF" in pdf.catalog:  # the library names each file twice
        pdf.catalog["AF"] = pydyf.Array(dict.fromkeys(pdf.catalog["AF"]))
    number = int(pdf.catalog["Metadata"].split()[0])
    metadata = pdf.objects[number]
    metadata.stream = [part.replace(b"</rdf:RDF>", _ALSO_UA + b"</rdf:RDF>") for part in metadata.stream]
    pdf.catalog["ViewerPreferences"] = pydyf.Dictionary({"PrintScaling": "/None", "DisplayDocTitle": "true"})


def bind(parts: Sequence[bytes]) -> bytes:
    """Several PDFs as one, titled as the first, its fonts and drawings kept once where they are the same.

    Their tags do not come along: what is bound of many papers claims neither PDF/UA nor PDF/A.
    """
    writer = PdfWriter()
    for part in parts:
        writer.append(BytesIO(part), import_outline=False)
        for name, contents in PdfReader(BytesIO(part)).attachments.items():
            for content in contents:
                writer.add_attachment(name, content)
    first = PdfReader(BytesIO(parts[0]))
    writer.add_metadata({name: str(value) for name, value in (first.metadata or {}).items()})
    writer.root_object[NameObject("/Lang")] = TextStringObject(first.root_object.get("/Lang", "en"))
    preferences = DictionaryObject(
        {NameObject("/PrintScaling"): NameObject("/None"), NameObject("/DisplayDocTitle"): BooleanObject(True)}
    )
    writer.root_object[NameObject("/ViewerPreferences")] = preferences
    writer.compress_identical_objects(remove_unreferenced=True)
    out = BytesIO()
    writer.write(out)
    return out.getvalue()
