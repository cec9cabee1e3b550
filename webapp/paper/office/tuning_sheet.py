"""The tuning record as a job for the press."""

from webapp.drawings.charts.cents import BarNote, cents_bars
from webapp.drawings.sheet.canvas import Theme
from webapp.paper.office.tuning_record import TuningRecord
from webapp.paper.press.jobs import Job
from webapp.paper.press.measures import MINUS
from webapp.paper.press.qr import qr_svg
from webapp.paper.press.sheets import fitted, job, text_width

CODE = 25.0  # mm, quiet zone included


def tuning_job(record: TuningRecord) -> Job:
    """One page; a long chart may take a second."""
    bars = None
    if record.notes:
        notes = [BarNote(note.fingering, note.name, note.cents) for note in record.notes]
        bars, _ = fitted(cents_bars(notes, Theme.PAPER, record.tolerance, 165.0), text_width(record.paper), 0.8)
    context: dict[str, object] = {
        "r": record,
        "bars": bars,
        "qr": qr_svg(record.address, CODE, f"Page of {record.serial}"),
        "minus": MINUS,
    }
    return job("tuning.html", "tuning.css", [context])
