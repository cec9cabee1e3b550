"""The boards of a cutting plan as drawings, for the screen and for the saw."""

from markupsafe import Markup

from webapp.drawings.blank.boards import Mark, Piece, board_picture
from webapp.drawings.sheet.canvas import Theme
from webapp.models import Units
from webapp.shop.units.rough import rough_length
from webapp.shop.wood.plans.shown import Shown


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
            longest,
            wood.species.colour,
            theme,
        )
        for wood in found.woods
        for board in wood.boards
    }
