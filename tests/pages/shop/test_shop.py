"""The shop screen and one's own page: settings, people, drills, adhesives; who may change what."""

import re
from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.pages.orders.test_orders import version, wrong
from tests.shops import PASSWORD, OpenShop, signed_in
from webapp.shop.glue import adhesives
from webapp.shop.glue.adhesives import AdhesiveAsked

PERSON = {"name": "Ulla Brandt", "sign_in_name": "Ulla", "password": "three dry maple boards", "role": "maker"}
ADHESIVE = {
    "name": "hot hide glue",
    "open_minutes": "1 min",
    "clamp_minutes": "1.5 h",
    "cure_minutes": "1 day",
    "lowest_temperature": "70 F",
}


def settings(client: TestClient, **more: Any) -> dict[str, str]:
    """The settings form as it is filled in now, with some fields typed over."""
    page = client.get("/shop/settings").text.split("<main")[1]
    inputs = re.findall(r'<input[^>]*?name="(\w+)"[^>]*?value="([^"]*)"(?![^>]*type="radio")', page)
    sent = {name: value for name, value in inputs if name not in ("once", "units", "paper")}
    return sent | {"units": "mm", "paper": "letter", "timezone": "UTC"} | more


def test_settings_are_changed_and_written_down(client: TestClient) -> None:
    page = client.post("/shop/settings", data=settings(client, a4="432", played_co2="2.5", serial_prefix="AL-"))
    assert page.url.path == "/shop"
    for words in ("432 Hz", "2.5 % carbon dioxide", "A4: was 440, is now 432", "AL-"):
        assert words in page.text
    assert 'value="432"' in client.get("/orders/new").text


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("name", ""),
        ("currency", "XXQ"),
        ("timezone", "Mars/Olympus"),
        ("a4", "4400"),
        ("a4", "nan"),
        ("played_temperature", "90"),
        ("played_temperature", "warm"),
        ("played_humidity", "120"),
        ("played_co2", "-1"),
        ("bench_humidity", "inf"),
        ("tolerance_cents", "0"),
        ("fundamental_low_cents", "400"),
        ("clamp_places", "0"),
        ("clamp_places", "2.5"),
        ("serial_prefix", "a/b"),
        ("serial_prefix", "ABCDEFGHI"),
        ("units", "cubits"),
        ("paper", "papyrus"),
    ],
)
def test_what_is_wrong_with_a_setting_stands_at_its_field(client: TestClient, field: str, typed: str) -> None:
    answer = client.post("/shop/settings", data=settings(client, **{field: typed}))
    assert answer.status_code == 422
    assert wrong(answer.text, field)


def test_stale_settings_show_both(client: TestClient) -> None:
    sent = settings(client, clamp_places="9")
    client.post("/shop/settings", data=settings(client, clamp_places="4"))
    stale = client.post("/shop/settings", data=sent)
    assert stale.status_code == 409
    assert "it now says “4”, yours says “9”" in stale.text
    again = client.post("/shop/settings", data=sent | {"version": version(stale.text)})
    assert re.search(r"Clamp places</dt><dd>9<", again.text)


def test_someone_is_added_signs_in_and_changes_their_password(client: TestClient) -> None:
    page = client.post("/shop/people/new", data=PERSON)
    assert "Ulla Brandt" in page.text
    taken = client.post("/shop/people/new", data=PERSON)
    assert "already signs in with that name" in wrong(taken.text, "sign_in_name")
    client.cookies.clear()
    client.post("/sign-in", data={"sign_in_name": "ulla", "password": PERSON["password"]})
    elsewhere = dict(client.cookies)
    client.cookies.clear()
    client.post("/sign-in", data={"sign_in_name": "ulla", "password": PERSON["password"]})
    guess = client.post("/me/password", data={"present": "not the password", "password": "a longer new password"})
    assert "That is not your password" in wrong(guess.text, "present")
    short = client.post("/me/password", data={"present": PERSON["password"], "password": "short"})
    assert "at least 12" in wrong(short.text, "password")
    changed = client.post("/me/password", data={"present": PERSON["password"], "password": "a longer new password"})
    assert changed.url.path == "/me"
    assert "Your password is changed" in changed.text
    client.cookies.clear()
    client.cookies.update(elsewhere)
    assert client.get("/me").url.path == "/sign-in", "the other browser is signed out"


def test_ones_own_units_change_how_lengths_are_shown(client: TestClient) -> None:
    assert "4.5 mm" not in client.post("/me/units", data={"units": "inch"}).text
    assert "Such as 7 1/2" in client.get("/orders/new").text
    assert "Such as 190 mm" in client.post("/me/units", data={"units": ""}).text + client.get("/orders/new").text
    assert client.post("/me/units", data={"units": "ells"}).status_code == 422


@pytest.mark.parametrize(
    ("field", "typed"),
    [("name", ""), ("sign_in_name", ""), ("password", "short"), ("role", "king"), ("role", "")],
)
def test_what_is_wrong_with_a_person_stands_at_its_field(client: TestClient, field: str, typed: str) -> None:
    answer = client.post("/shop/people/new", data=PERSON | {field: typed})
    assert answer.status_code == 422
    assert wrong(answer.text, field)


def test_the_last_owner_stays_and_someone_put_away_is_signed_out(client: TestClient, open_shop: OpenShop) -> None:
    me = f"/shop/people/{open_shop.owner.id}"
    refused = client.post(me, data={"name": "Ines", "role": "viewer", "active": "on"})
    assert "only owner" in wrong(refused.text, "role")
    refused = client.post(me, data={"name": "Ines", "role": "owner"})
    assert "only owner" in wrong(refused.text, "active")
    signed_in(client, "tam")
    tams = dict(client.cookies)
    signed_in(client, "ines")
    client.post(f"/shop/people/{open_shop.maker.id}", data={"name": "Tam", "role": "maker"})
    assert "put away" in client.get("/shop").text
    client.cookies.clear()
    client.cookies.update(tams)
    assert client.get("/").url.path == "/sign-in"
    client.cookies.clear()
    assert client.post("/sign-in", data={"sign_in_name": "tam", "password": PASSWORD}).status_code == 422


def test_drills_are_hung_up_once_and_taken_down(client: TestClient) -> None:
    page = client.post("/shop/drills", data={"diameter": "9/32"})
    assert "7.14 mm" in page.text
    assert "hangs there already" in wrong(client.post("/shop/drills", data={"diameter": "7.144"}).text, "diameter")
    for typed in ("", "thick", "0", "90 mm"):
        assert client.post("/shop/drills", data={"diameter": typed}).status_code == 422
    drill = re.search(r'7\.14 mm</td>.*?action="(/shop/drills/\d+/take-down)"', page.text, re.DOTALL)
    assert drill is not None
    assert "7.14 mm" not in client.post(drill[1]).text.split('class="diary"')[0]
    assert client.post(drill[1]).status_code == 404


def test_adhesives_are_added_and_changed(client: TestClient) -> None:
    page = client.post("/shop/adhesives/new", data=ADHESIVE)
    assert "hot hide glue" in page.text
    address = re.search(r'href="(/shop/adhesives/\d+)">hot hide glue', page.text)
    assert address is not None
    form = client.get(address[1]).text
    assert 'value="90 min"' in form
    assert 'value="21.1111 °C"' in form
    client.post(address[1], data=ADHESIVE | {"clamp_minutes": "2 hours"})
    assert "In clamps: was 90 min, is now 2 h" in client.get(address[1]).text


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("name", "", "fill this in"),
        ("name", "slow two-part epoxy", "of that name already"),
        ("open_minutes", "a while", "Write a time"),
        ("clamp_minutes", "0", "between a minute"),
        ("cure_minutes", "99999 days", "between a minute"),
        ("cure_minutes", "1 h", "before it comes out of the clamps"),
        ("lowest_temperature", "cold", "Write a temperature"),
        ("item_id", "77", "Choose a lot of glue"),
    ],
)
def test_what_is_wrong_with_an_adhesive_stands_at_its_field(
    client: TestClient, field: str, typed: str, says: str
) -> None:
    answer = client.post("/shop/adhesives/new", data=ADHESIVE | {field: typed})
    assert answer.status_code == 422
    assert says in wrong(answer.text, field)


@pytest.mark.parametrize("address", ["/shop/people/99", "/shop/adhesives/99", "/shop/people/99999999999999999999"])
def test_what_does_not_exist_is_not_found(client: TestClient, address: str) -> None:
    assert client.get(address).status_code == 404


@pytest.mark.parametrize(("name", "works"), [("kit", False), ("tam", True), ("bo", True)])
def test_only_the_owner_changes_people_and_settings_and_a_viewer_changes_nothing(
    client: TestClient, name: str, works: bool
) -> None:
    signed_in(client, name)
    assert client.get("/shop").status_code == 200
    assert client.get("/shop/drills").status_code == 200
    for address in ("/shop/settings", "/shop/people/new", "/shop/people/1"):
        assert client.get(address).status_code == 403
        assert client.post(address, data={}).status_code == 403
    status = 422 if works else 403
    for address in ("/shop/drills", "/shop/adhesives/new", "/shop/adhesives/1"):
        assert client.post(address, data={}).status_code == status
    if not works:
        assert client.post("/shop/drills/1/take-down").status_code == 403
        assert "<form" not in client.get("/shop").text.split("<main")[1]
        assert client.post("/me/units", data={"units": "inch"}).status_code == 200, "one's own view is one's own"


def test_every_property_of_an_adhesive_is_in_its_form_and_has_a_name(client: TestClient) -> None:
    """One that is forgotten would be set back by whoever saves the page."""
    asked = set(AdhesiveAsked.model_fields)
    page = client.get("/shop/adhesives/1").text
    assert asked == set(adhesives.WORDS)
    assert asked <= set(re.findall(r'name="(\w+)"', page))
