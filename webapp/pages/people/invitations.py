"""Invitations: the owner makes a secret address; whoever is invited opens it and chooses a password."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.addresses import public_address
from webapp.pages.frame.desk import Act, PublicAct, PublicView, View
from webapp.pages.frame.patience import waits
from webapp.pages.people.sign_in import let_in
from webapp.paper.press.qr import qr_svg
from webapp.shop.base.errors import Invalid
from webapp.shop.people import invitations, rules as people, second_step
from webapp.shop.people.invitations import ChosenPassword

router = APIRouter()


@router.post("/shop/people/{person_id}/invitation")
def invite(desk: Act, person_id: int) -> Response:
    token = invitations.invite(desk.session, desk.who, person_id)
    address = public_address(desk, f"/invitation/{token}")
    return desk.render(
        "people/invitation_made.html",
        known=people.person(desk.session, person_id),
        address=address,
        picture=qr_svg(address, 60, "The invitation's address"),
        days=invitations.GOOD_FOR.days,
    )


@router.get("/shop/people/{person_id}/invitation")
def shown_once(desk: View, person_id: int) -> Response:
    return desk.go(f"/shop/people/{person_id}")


@router.post("/shop/people/{person_id}/second-step-off")
def take_away(desk: Act, person_id: int) -> Response:
    second_step.take_away(desk.session, desk.who, person_id)
    return desk.go(f"/shop/people/{person_id}")


@router.get("/invitation/{token}")
def ask(desk: PublicView, token: str) -> Response:
    return desk.render("people/invitation.html", known=invitations.invited(desk.session, token), token=token)


@router.post("/invitation/{token}")
@waits
def accept(desk: PublicAct, token: str) -> Response:
    form = desk.form()
    try:
        with desk.database.read() as reading:
            chosen = invitations.choose(reading, token, form.read(ChosenPassword))
        person = invitations.accept(desk.session, token, chosen)
    except Invalid as error:
        known = invitations.invited(desk.session, token)
        return desk.render("people/invitation.html", status=422, known=known, token=token, form=form.failed(error))
    return let_in(desk, person, "/")
