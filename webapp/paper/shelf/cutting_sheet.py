"""A cutting plan as pictures of its boards, to scale with numbered pieces, and as a job for the press."""

from markupsafe import Markup

from webapp.drawings.blank.boards import Mark, Piece, board_picture
from webapp.drawings.sheet.canvas import Theme
from webapp.models import CuttingPlan, Shop, Units
from webapp.paper.press.jobs import Job
from webapp.paper.press.measures import day_of
from webapp.paper.press.sheets import fitted, job, text_width
from webapp.shop.units.rough import rough_length, rough_volume
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
        "volume": lambda mm3: rough_volume(mm3, units),
    }
    return job("cutting.html", "stock.css", [context])


def pictures(units: Units, found: Shown, theme: Theme = Theme.PAGE) -> dict[int, Markup]:
    """Each board of a plan, all at one scale, by its number within the plan."""
    longest = max((board.length for wood in found.woods for board in wood.boards), default=1.0)
    return {
        board.number: board_picture(
            f"{board.letter}: {board.name}",
            board.length,
            board.width,
            lambda mm: rough_length(mm, units),
            [Mark(*mark) for mark in board.marks],
            [Piece(*piece) for piece in board.pieces],
            board.sawn,
            board.running,
            longest,
            wood.species.colour,
            theme,
        )
        for wood in found.woods
        for board in wood.boards
    }
