"""The whole diary for the owner: who did what, by person, by day and by what it was about."""

from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.desk import View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.people import accounts, audit

router = APIRouter()


@router.get("/shop/diary")
def show(desk: View) -> Response:
    form = Form(dict(desk.request.query_params))
    try:
        asked, status = form.read(audit.Asked), 200
    except Invalid as error:
        form, asked, status = form.failed(error), audit.Asked(), 422
    found = audit.read(desk.session, desk.who, asked, desk.shop.timezone)
    again = {name: value for name, value in form.values.items() if name in ("person", "subject", "day") and value}
    return desk.render(
        "people/diary.html",
        status=status,
        form=form,
        lines=found.lines,
        older=f"/shop/diary?{urlencode({**again, 'before': found.before})}" if found.before else None,
        people=[(person.id, person.name) for person in accounts.people(desk.session)],
        subjects=audit.subjects(desk.session),
    )
