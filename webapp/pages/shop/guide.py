"""The guide for the people of the shop: a page for each chapter, and all of them on one page to search or print."""

from dataclasses import dataclass
from functools import cache
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response
from PIL import Image

from webapp.pages.frame.desk import PublicView
from webapp.pages.frame.rendering import STATIC
from webapp.shop.base.errors import NotFound

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Chapter:
    """A chapter: its name in the address and among the templates, its title, and what it is about in a line."""

    name: str
    title: str
    about: str


PARTS: Final[dict[str, tuple[Chapter, ...]]] = {
    "Beginning": (
        Chapter("first-day", "The first day", "Open the shop, its people, drills, glue and steps"),
        Chapter("screens", "What each screen is for", "The eight screens, and how to find anything"),
        Chapter("keyboard", "Keys, pedals and big type", "Shortcuts, a foot pedal, hands-free at the bench"),
    ),
    "The work": (
        Chapter("orders", "Take an order", "Quote, price, promise, confirm, change"),
        Chapter("patterns", "Design a pattern", "From a key and a hand to dimensions"),
        Chapter("wood", "Wood and stock", "Boards, halves, moisture, sawing, labels, counting"),
        Chapter("blanks", "Open blanks and print travelers", "Reserve wood, serials, sheets for the bench"),
        Chapter("steps", "Scan, and record a step", "From the code on the sheet to the next hand movement"),
        Chapter("glue-up", "Glue up", "Open time, clamps, cure"),
        Chapter("defects", "Defects and pictures", "What went wrong, where, and what becomes of it"),
        Chapter("voicing", "Voice", "The lowest note before turning"),
        Chapter("tuning", "Tune", "Listen, read, cut, and what the shop learns"),
        Chapter("hand-over", "Finish and hand over", "Coats, papers, payment, the customer's page"),
        Chapter("shelf", "Flutes on the shelf", "Price, place, taken by an order, given back"),
        Chapter("repairs", "Repairs and retuning", "A flute comes back"),
    ),
    "Around the shop": (
        Chapter("roles", "Who may do what", "Roles, invitations, passwords, the second step"),
        Chapter("tablets", "Set up tablets", "The network, the certificate, microphone and camera"),
        Chapter("recordings", "Without the microphone", "A phone's recorder, or any meter"),
        Chapter("calendar", "The calendar on your phone", "Clamps, cure, coats and due days"),
        Chapter("tables", "Tables in and out", "Import what you have, export all of it"),
        Chapter("programs", "Keys for programs", "A label printer, a web site, a spreadsheet"),
        Chapter("people-data", "What is kept about people", "Customers and those who work here, and who sees it"),
    ),
    "Keeping it running": (
        Chapter("backups", "Back up and restore", "Made by itself, checked, kept elsewhere"),
        Chapter("computer", "The computer that runs the shop", "Start with the machine, update, settings"),
        Chapter("postgresql", "Move to PostgreSQL", "And back again"),
        Chapter("trouble", "When something goes wrong", "No connection, a full disk, a wrong clock"),
    ),
}
CHAPTERS: Final = tuple(chapter for chapters in PARTS.values() for chapter in chapters)


@cache
def size_of(picture: str) -> tuple[int, int]:
    """Width and height of a picture of the guide in pixels, so that the page keeps its place while it loads."""
    with Image.open(STATIC / "guide" / f"{picture}.png") as opened:
        return opened.size


@router.get("/guide")
def contents(desk: PublicView) -> Response:
    return desk.render("guide/contents.html", parts=PARTS)


@router.get("/guide/all")
def everything(desk: PublicView) -> Response:
    return desk.render("guide/all.html", parts=PARTS, size_of=size_of, level=4)


@router.get("/guide/{name}")
def chapter(desk: PublicView, name: str) -> Response:
    for index, one in enumerate(CHAPTERS):
        if one.name == name:
            before = CHAPTERS[index - 1] if index else None
            after = CHAPTERS[index + 1] if index + 1 < len(CHAPTERS) else None
            return desk.render("guide/chapter.html", chapter=one, before=before, after=after, size_of=size_of, level=2)
    raise NotFound("The guide has no such chapter.")
