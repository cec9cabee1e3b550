"""A cutting plan as a job for the press: every board to scale with its pieces numbered, to take to the saw."""

from markupsafe import Markup

from webapp.models import CuttingPlan, Shop, Units
from webapp.paper.press.jobs import Job
from webapp.paper.press.measures import day_of
from webapp.paper.press.sheets import fitted, job, text_width
from webapp.shop.units.rough import rough_length
from webapp.shop.wood.plans.shown import Shown


def cutting_job(shop: Shop, units: Units, plan: CuttingPlan, found: Shown, drawn: dict[int, Markup]) -> Job:
    """As many pages as the boards take; no board is torn apart by a page's end."""
    width = text_width(shop.paper)
    context: dict[str, object] = {
        "shop": shop,
        "plan": plan,
        "found": found,
        "day": day_of(plan.started_at, shop.timezone),
        "drawn": {number: fitted(picture, width)[0] for number, picture in drawn.items()},
        "measure": lambda mm: rough_length(mm, units),
    }
    return job("cutting.html", "stock.css", [context])
