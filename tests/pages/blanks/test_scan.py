"""Finding a blank by its traveler, and whose hands it is in."""

from fastapi.testclient import TestClient

from tests import blanks as made
from tests.shops import PASSWORD, OpenShop, signed_in
from webapp.pages.frame.kept_forms import GO_TO


def test_a_scanned_address_survives_the_sign_in(open_shop: OpenShop, stranger: TestClient) -> None:
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker)
    for asked in ("/blanks/0001", "/blanks?waiting=late&key=F%234"):
        stranger.cookies.clear()
        door = stranger.get(asked)
        assert door.url.path == "/sign-in"
        then = " ".join(door.text.split()).split('name="then" value="')[1].split('"')[0].replace("&amp;", "&")
        typed = {"sign_in_name": "ines", "password": PASSWORD, "then": then}
        page = stranger.post("/sign-in", data=typed)
        assert str(page.url).removeprefix("http://testserver") == asked


def test_a_serial_is_found_whole_or_in_part(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker, 12)
    assert client.get("/scan").status_code == 200
    for typed, leads_to in [("0012", "0012"), ("12", "0012"), ("3", "0003")]:
        answer = client.get("/scan", params={"serial": typed}, follow_redirects=False)
        assert answer.headers["location"] == f"/blanks/{leads_to}#now", typed
    page = client.get("/scan", params={"serial": "1"}).text
    assert 'href="/blanks/0001#now"' in page and 'href="/blanks/0011#now"' in page and "0012" not in page
    page = client.get("/scan", params={"serial": "00%"})
    assert page.status_code == 422 and "No serial has that in it." in page.text


def test_a_blank_is_in_someones_hands_and_the_rack_shows_theirs(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        one, other = made.opened(session, open_shop.maker, 2)
        third = made.opened(session, open_shop.maker, flute_id=made.order(session, key="G4"), key="G4")[0]
        made.bring_to(session, open_shop.maker, third, "glue-up")
    maker, viewer = open_shop.maker, open_shop.viewer
    assert client.post(f"/blanks/{one.serial}/hands", data={"hands_id": viewer.id}).status_code == 422
    page = client.post(f"/blanks/{one.serial}/hands", data={"hands_id": maker.id}).text
    assert "in Tam’s hands" in page and "In the hands of Tam" in page
    client.post(f"/blanks/{other.serial}/hands", data={"hands_id": open_shop.owner.id})

    def lie(query: str) -> set[str]:
        page = client.get(f"/?{query}")
        assert page.status_code == 200
        return {serial for serial in ("0001", "0002", "0003") if f'id="lies-{serial}"' in page.text}

    assert lie("") == {"0001", "0002", "0003"}
    assert lie(f"person={maker.id}") == {"0001"}
    assert lie("person=me") == {"0002"}
    assert lie("waiting=glue-up") == {"0003"} and lie("key=G4") == {"0003"} and lie("key=A4") == {"0001", "0002"}
    assert lie(f"wood={open_shop.species('sugar maple')}") == set()
    assert lie("waiting=late") == set()
    assert client.get("/?person=nobody").status_code == 422
    assert "0001" in client.get(f"/blanks?person={maker.id}").text

    # What renews itself keeps its filter, and stays quiet until something changes.
    page = client.get("/?waiting=glue-up").text
    poll = page.split('<div id="live" hx-get="')[1].split('"')[0].replace("&amp;", "&")
    assert client.get(poll, headers={"hx-request": "true"}).status_code == 204
    client.post(f"/blanks/{one.serial}/hands", data={"hands_id": ""})
    again = client.get(poll, headers={"hx-request": "true"})
    assert again.status_code == 200 and 'id="lies-0003"' in again.text and 'id="lies-0001"' not in again.text
    # To a script that keeps forms, where to go is told in a header.
    told = client.post(f"/blanks/{one.serial}/hands", headers={"x-kept-form": "1"}, follow_redirects=False)
    assert told.status_code == 200 and told.headers[GO_TO] == "/blanks/0001#hands" and "location" not in told.headers
    assert signed_in(client, "kit").post(f"/blanks/{one.serial}/hands", data={}).status_code == 403
