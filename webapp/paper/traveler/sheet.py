"""The build traveler as a job for the press."""

import json

from webapp.drawings.flute.dimensioned import dimensioned
from webapp.drawings.sheet.canvas import Theme
from webapp.paper.press.jobs import Job
from webapp.paper.press.qr import qr_svg
from webapp.paper.press.sheets import AlignedChart, height_of, job, text_width
from webapp.paper.traveler.density import DENSITIES, expected
from webapp.paper.traveler.parts import Traveler

PAGES = 2
CODE = 25.0  # mm, quiet zone included


def traveler_job(t: Traveler) -> Job:
    """Two pages, set as roomily as they allow."""
    width = text_width(t.paper)
    drawing = dimensioned(t.instrument, t.units, width, Theme.PAPER)
    common: dict[str, object] = {
        "t": t,
        "qr": qr_svg(t.address, CODE, f"Page of {t.serial}"),
        "drawing": drawing,
        "chart": AlignedChart(t.notes, 0.56 * width, 0.66) if t.notes else None,
        "predicted": any(note.predicted for note in t.notes),
    }
    first = expected(t, height_of(drawing))
    versions = [{**common, "density": density} for density, _ in DENSITIES[first:]]
    flute = json.dumps({"instrument": t.instrument.to_json()}, indent=1)
    attached = (f"{t.serial}.json", "The flute, for: python -m acoustics predict", flute)
    return job("traveler.html", "traveler.css", versions, PAGES, (attached,))
