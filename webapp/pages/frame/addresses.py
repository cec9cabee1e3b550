"""Addresses as they are sent outside the shop or printed."""

from webapp.pages.frame.desk import Desk


def public_address(desk: Desk, path: str = "") -> str:
    """The whole address of a path of ours: as set, so that tablets reach it, else as this request came."""
    base = desk.settings.public_url or str(desk.request.base_url).rstrip("/")
    return base + path
