"""Drawings to scale: geometry in, SVG out. Pure functions; nothing here reads a database or a request."""

from webapp.drawings.canvas import Theme
from webapp.drawings.cents import BarNote, cents_bars
from webapp.drawings.chart import ChartNote, fingering_chart
from webapp.drawings.dimensioned import dimensioned
from webapp.drawings.miniature import drawn_length, miniature, rack_class
from webapp.drawings.progress import Progress

__all__ = [
    "BarNote",
    "ChartNote",
    "Progress",
    "Theme",
    "cents_bars",
    "dimensioned",
    "drawn_length",
    "fingering_chart",
    "miniature",
    "rack_class",
]
