"""The build traveler as a job for the press."""

from webapp.drawings import Theme, dimensioned
from webapp.paper.jobs import Job
from webapp.paper.qr import qr_svg
from webapp.paper.sheets import AlignedChart, job, text_width
from webapp.paper.traveler import AS_ABOVE, Traveler

PAGES = 2
CODE = 25.0  # mm, quiet zone included


def traveler_job(t: Traveler) -> Job:
    """Two pages: the ordinary setting where it fits, else a dense one."""
    width = text_width(t.paper)
    chart = AlignedChart(t.notes, 0.56 * width, 0.66) if t.notes else None
    common: dict[str, object] = {
        "t": t,
        "qr": qr_svg(t.address, CODE, f"Page of {t.serial}"),
        "drawing": dimensioned(t.instrument, t.units, width, Theme.PAPER),
        "chart": chart,
        "foreseen": any(note.predicted for note in t.notes),
        "as_above": AS_ABOVE,
    }
    versions = [{**common, "density": "", "lines": 3}, {**common, "density": "dense", "lines": 2}]
    return job("traveler.html", "traveler.css", versions, PAGES)
