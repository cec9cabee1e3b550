"""Drawings to scale: geometry in, SVG out. Pure functions; nothing here reads a database or a request."""

from webapp.drawings.cents import BarNote, cents_bars
from webapp.drawings.chart import ChartNote, fingering_chart
from webapp.drawings.miniature import drawn_length, miniature, rack_class
from webapp.drawings.progress import Progress

__all__ = [
    "BarNote",
    "ChartNote",
    "Progress",
    "cents_bars",
    "drawn_length",
    "fingering_chart",
    "miniature",
    "rack_class",
]
