"""Who may do what, as a page for everyone here."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Role
from webapp.pages.frame.desk import View
from webapp.shop.people import amounts, roles

router = APIRouter()


@router.get("/shop/roles")
def show(desk: View) -> Response:
    return desk.render(
        "people/roles.html",
        roles=[role.value for role in Role],
        table=list(roles.table()),
        money=list(amounts.table()),
    )
