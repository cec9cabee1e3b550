"""How densely a traveler must be set to stay on two pages, estimated from how much there is to say.

The press tries a denser setting where one turns out too long, but every try costs a layout: a good guess at the
first one halves the time. Heights in mm were measured on printed travelers at the roomiest setting.
"""

from math import ceil

from webapp.paper.press.sheets import SHEETS
from webapp.paper.traveler.parts import StepLine, Traveler

# From roomy to dense: the class in traveler.css, and how far over two pages (at the first) it still takes in [mm].
DENSITIES = (("", 3.0), ("close", 40.0), ("dense", 74.0), ("dense densest", 110.0))

_ROW = 4.75
_LINE = 3.2  # each further line of a caution
_STAGE = 6.4
_FACT = 4.0  # each line of the head's facts
_SHORT, _LONG = 118, 150  # letters on a line beside the initials, and over the whole width
_TOP = 73.0  # head, tables and chart of the first page, without drawing and facts
_MARGINS = 20.0


def expected(t: Traveler, drawing: float) -> int:
    """The index in DENSITIES to begin with; `drawing` is the height of the drawing [mm]."""
    facts = (t.order or "for stock", t.customer, t.due, t.wood, f"{t.pattern}, revision {t.revision}", t.extras)
    top = _TOP + drawing + _FACT * sum(ceil(len(text) / 42) for text in facts)
    top += _LINE * ceil(len(" ".join(t.wood_cautions)) / _LONG)
    rows = sum(_STAGE + sum(_height(step) for step in stage.steps) for stage in t.stages)
    over = top + rows - 2 * (SHEETS[t.paper][1] - _MARGINS)
    return next((i for i, (_, gain) in enumerate(DENSITIES) if over <= gain), len(DENSITIES) - 1)


def _height(step: StepLine) -> float:
    caution = "" if step.as_above else step.caution
    gauged = bool(step.gauge or step.wanted)
    if not gauged and not step.remark:
        return _ROW + _LINE * (ceil((len(step.name) + len(caution) + 9) / _SHORT) - 1 if caution else 0)
    return _ROW + _LINE * sum(ceil((len(text) + 9) / _LONG) for text in (caution, step.remark) if text)
