"""Yield and scrap over a period: by cause, pattern, wood and person, with how much so few numbers can say."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.charts.yields import share_bar
from webapp.pages.frame.desk import View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.times import today_of
from webapp.shop.base.errors import Invalid
from webapp.shop.blanks import yields
from webapp.shop.blanks.yields import USUAL, Period
from webapp.shop.production import defects

router = APIRouter()


@router.get("/yields")
def show(desk: View) -> Response:
    today = today_of(desk.shop)
    usual = Period(first=today - USUAL, last=today)
    params = desk.request.query_params
    days = {name: params[name].strip()[:20] for name in ("first", "last") if params.get(name, "").strip()}
    form = Form({"first": usual.first.isoformat(), "last": usual.last.isoformat()} | days)
    period = usual
    try:
        period = form.read(Period)
    except Invalid as error:
        form = form.failed(error)
    return desk.render(
        "blanks/yields.html",
        status=422 if form.errors else 200,
        form=form,
        period=period,
        yields=yields.of_period(desk.session, period),
        undecided=defects.undecided(desk.session),
        bar=share_bar,
    )
