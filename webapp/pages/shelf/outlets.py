"""Outlets: what lies where, since when, what was sold there, what is owed."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Outlet
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.shelf import outlets, sales
from webapp.shop.shelf.outlets import Bring, OutletAsked
from webapp.shop.shelf.sales import SellAsked
from webapp.shop.units.keys import show_note

router = APIRouter()
HERE = "/shelf/outlets"


@router.get("/shelf/outlets")
def show(desk: View) -> Response:
    return _page(desk)


@router.post("/shelf/outlets")
def add(desk: Act) -> Response:
    return desk.submit(
        lambda form: outlets.save(desk.session, desk.who, None, form.read(OutletAsked)),
        again=lambda form, status: _page(desk, status, new=form),
        to=HERE,
    )


@router.get("/shelf/outlets/{outlet_id}")
def ask(desk: View, outlet_id: int) -> Response:
    one = outlets.outlet(desk.session, outlet_id)
    values = {"name": one.name, "keeps_percent": f"{one.keeps_percent:f}", "version": str(one.version)}
    return _one(desk, one, Form(values))


@router.post("/shelf/outlets/{outlet_id}")
def change(desk: Act, outlet_id: int) -> Response:
    return desk.submit(
        lambda form: outlets.save(desk.session, desk.who, outlet_id, form.read(OutletAsked)),
        again=lambda form, status: _one(desk, outlets.outlet(desk.session, outlet_id), form, status),
        to=HERE,
    )


@router.post("/shelf/outlets/{outlet_id}/bring")
def bring(desk: Act, outlet_id: int) -> Response:
    return desk.submit(
        lambda form: outlets.bring(desk.session, desk.who, outlet_id, form.read(Bring)),
        again=lambda form, status: _page(desk, status, moving=(outlet_id, form)),
        to=f"{HERE}#outlet-{outlet_id}",
    )


@router.post("/shelf/outlets/{outlet_id}/fetch")
def fetch(desk: Act, outlet_id: int) -> Response:
    return desk.submit(
        lambda form: outlets.fetch(desk.session, desk.who, outlet_id, form.read(Bring)),
        again=lambda form, status: _page(desk, status, moving=(outlet_id, form)),
        to=f"{HERE}#outlet-{outlet_id}",
    )


@router.post("/shelf/outlets/{outlet_id}/sold")
def sold(desk: Act, outlet_id: int) -> Response:
    def rule(form: Form) -> None:
        asked = form.read(SellAsked).model_copy(update={"outlet_id": outlet_id})
        sales.sell(desk.session, desk.who, asked)

    return desk.submit(
        rule,
        again=lambda form, status: _page(desk, status, moving=(outlet_id, form)),
        to=f"{HERE}#outlet-{outlet_id}",
    )


def _page(desk: Desk, status: int = 200, new: Form | None = None, moving: tuple[int, Form] | None = None) -> Response:
    stands = outlets.stands(desk.session)
    forms = {one.outlet.id: Form() for one in stands} | dict([moving] if moving else [])
    for outlet_id, form in forms.items():
        form.id = f"outlet-{outlet_id}"
    return desk.render(
        "shelf/outlets.html", status=status, stands=stands, new=new or Form(), forms=forms, as_note=show_note
    )


def _one(desk: Desk, outlet: Outlet, form: Form, status: int = 200) -> Response:
    return desk.render("shelf/outlet.html", status=status, outlet=outlet, form=form)
