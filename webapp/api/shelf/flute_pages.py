"""The flutes' own pages: the switch and the words, where a flute's page is and what it says, its label."""

from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import PDF, Call, Change, Look
from webapp.api.frame.fields import Serial
from webapp.api.frame.rows import Shown
from webapp.api.frame.ways import OFFICE, way
from webapp.paper.office.flute_label import flute_label, label_job
from webapp.shop.blanks.state import by_serial
from webapp.shop.flute_pages import address, rules as flute_pages
from webapp.shop.flute_pages.content import page_of
from webapp.shop.flute_pages.rules import FlutePagesAsked


class FlutePagesShown(Shown):
    """Whether flutes have pages of their own, and the shop's words on them."""

    is_open: bool
    warranty: str
    finish_care: str


class NoteShown(Shown):
    """A note, its fingering, and how far it was from its target when the flute left."""

    name: str
    fingering: str
    cents: float | None


class FlutePageShown(Shown):
    """Where a flute's page is (none: it has none now), and what it says."""

    address: str | None
    key: str
    scale: str
    pitch: str
    wood: str
    notes: list[NoteShown]
    cautions: list[str]
    finish_care: str
    warranty: str


router = ways.router("flute pages")


@router.get("/flute-pages", **way("Whether flutes have pages of their own", "/shop/flute-pages", shows=FlutePagesShown))
def show(call: Look) -> Response:
    return _shown(call)


@router.put("/flute-pages", **way("Switch them on or off", "/shop/flute-pages", scope=OFFICE, shows=FlutePagesShown))
def change(call: Change, asked: FlutePagesAsked) -> Response:
    flute_pages.change(call.session, call.who, asked)
    return _shown(call)


@router.get(
    "/blanks/{serial}/page",
    **way("A flute's own page: its address and what it says", "/blanks/{serial}", shows=FlutePageShown),
)
def page(call: Look, serial: Serial) -> Response:
    blank = by_serial(call.session, serial)
    path, said = address.path_of(call.session, blank), page_of(call.session, blank)
    return call.answer(
        {
            "address": call.address(path) if path else None,
            "key": said.key,
            "scale": said.scale,
            "pitch": said.pitch,
            "wood": said.wood,
            "notes": [{"name": one.name, "fingering": one.fingering, "cents": one.cents} for one in said.notes],
            "cautions": list(said.cautions),
            "finish_care": said.finish_care,
            "warranty": said.warranty,
        }
    )


@router.get(
    "/blanks/{serial}/label.pdf",
    **way("A flute's small label, with the code of its page", "/blanks/{serial}/label.pdf", gives=PDF),
)
def label(call: Look, serial: Serial) -> Response:
    found = flute_label(call.session, by_serial(call.session, serial), call.address())
    return call.pdf(call.around.press.print(label_job(found)), f"label-{serial}")


def _shown(call: Call) -> Response:
    said = flute_pages.settings(call.session)
    shown = {"is_open": said.is_open, "warranty": said.warranty, "finish_care": said.finish_care}
    return call.answer(shown, said.version)
