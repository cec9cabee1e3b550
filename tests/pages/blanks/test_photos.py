"""Pictures and papers on their pages: added, served to those signed in alone, taken back."""

import io
from pathlib import Path

import pypdf
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from PIL import Image
from sqlmodel import select

from tests import blanks as made
from tests.load import hostile_files
from tests.shop.blanks.test_pictures import pdf
from tests.shops import OpenShop, signed_in
from webapp.models import Blank, BlankStep, Event, Photo, StockItem, StockKind
from webapp.shop.blanks import photo_files, photos
from webapp.shop.people import tokens
from webapp.shop.people.tokens import Scope, TokenAsked
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot


def jpeg(colour: str = "tan", size: tuple[int, int] = (64, 48)) -> bytes:
    into = io.BytesIO()
    Image.new("RGB", size, colour).save(into, "JPEG")
    return into.getvalue()


def sending(content: bytes, name: str = "IMG_0001.JPG", kind: str = "image/jpeg") -> dict[str, tuple[str, bytes, str]]:
    return {"file": (name, content, kind)}


def test_a_picture_of_a_blank_from_the_shutter_to_its_taking_back(
    client: TestClient, open_shop: OpenShop, app: FastAPI, tmp_path: Path
) -> None:
    app.state.settings = app.state.settings.model_copy(update={"largest_photo": 100_000})
    with open_shop.database.write() as session:
        blank, other = made.opened(session, open_shop.maker, 2)
        serial, step = blank.serial, made.step(session, blank, "halves").id
        foreign = made.step(session, other, "halves").id
    page = " ".join(client.get(f"/blanks/{serial}").text.split())
    assert 'capture="environment"' in page and f'name="step_id" value="{step}"' in page
    once = {"once": "a key made for this test", "step_id": step}
    address = f"/blanks/{serial}/photos"
    page = client.post(address, data=once, files=sending(jpeg()))
    assert page.url.path == f"/blanks/{serial}" and "Picture kept." in page.text
    assert "/photos/1/small.jpg" in page.text and "Halves chosen and cut" in page.text
    # Sent again after a dropped connection, with the same key or as the same picture: kept once.
    client.post(address, data=once, files=sending(jpeg()))
    client.post(address, data={"step_id": step}, files=sending(jpeg()))
    with open_shop.database.read() as session:
        [kept] = session.exec(select(Photo)).all()
        assert photos.count_for_step(session, step or 0) == 1
        assert photos.count_for_step(session, foreign or 0) == 0
        told = session.exec(select(Event.what).where(Event.subject == "blank", Event.subject_id == kept.blank_id)).all()
        assert "Picture added" in told
    folder = photo_files.folder_of(tmp_path)
    assert len(list(folder.iterdir())) == 2 and (folder / kept.file_name).stat().st_size == kept.size
    # What is wrong is said at the field, and nothing is left lying about.
    for data, files, status, says in [
        ({}, {}, 422, "Take a picture, or choose a file."),
        ({}, sending(b"<html>", "page.jpg"), 422, "Send a picture"),
        ({"step_id": "x"}, sending(jpeg()), 422, "whole number"),
        ({"step_id": foreign}, sending(jpeg("red")), 404, "no such step"),
        ({"defect_id": 99}, sending(jpeg("red")), 404, "There is no"),
        ({"caption": "x" * 201}, sending(jpeg()), 422, "at most 200"),
        ({}, sending(bytes(200_001)), 422, "at most 0.1 megabytes"),
    ]:
        answer = client.post(address, data=data, files=files)
        assert (answer.status_code, says in answer.text) == (status, True), (data, answer.text[:400])
    assert client.post("/blanks/none/photos", files=sending(bytes(1_000_000))).status_code == 404
    assert len(list(folder.iterdir())) == 2
    # Served with its true type, for this browser alone, and never as anything that runs.
    answer = client.get("/photos/1/picture.jpg")
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.headers["cache-control"].startswith("private")
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox"
    again = client.get("/photos/1/picture.jpg", headers={"if-none-match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert client.get("/photos/1/paper.pdf").status_code == client.get("/photos/77").status_code == 404
    # Who only looks sees it and adds nothing; who is not signed in sees nothing at all.
    kit = signed_in(client, "kit")
    assert "data-photo" not in kit.get(f"/blanks/{serial}").text
    assert kit.get("/photos/1/small.jpg").status_code == 200
    assert kit.post(address, files=sending(jpeg("red"))).status_code == 403
    assert kit.post("/photos/1", data={"why": "x"}).status_code == 403
    kit.cookies.clear()
    assert kit.get("/photos/1/picture.jpg", follow_redirects=False).status_code == 303
    assert (
        kit.post(address, files=sending(jpeg("red")), follow_redirects=False).headers["location"].startswith("/sign-in")
    )
    maker = signed_in(client, "tam")
    assert maker.post("/photos/1").status_code == 422
    page = maker.post("/photos/1", data={"why": "of another blank"})
    assert "Taken back." in page.text and "/photos/1/small.jpg" not in page.text
    assert maker.post("/photos/1", data={"why": "again"}).status_code == 409
    assert maker.get("/photos/1/picture.jpg").status_code == 404
    assert "of another blank" in maker.get("/photos/1").text
    assert signed_in(client, "ines").get("/photos/1/picture.jpg").status_code == 200


def test_a_board_keeps_its_papers(client: TestClient, open_shop: OpenShop, tmp_path: Path) -> None:
    with open_shop.database.write() as session:
        lot = NewLot(kind=StockKind.BOARD, name="A board", species_id=open_shop.species(), quantity=1)
        item_id = stock.add_lot(session, open_shop.owner, lot).id
    address = f"/stock/{item_id}/photos"
    page = client.post(address, data={"caption": "Export permit"}, files=sending(pdf(2).getvalue(), "p.pdf", "x/y"))
    assert page.url.path == f"/stock/{item_id}" and "Paper kept." in page.text
    assert "Export permit" in client.get(address).text and "PDF, 2 pages" in client.get(address).text
    answer = client.get("/photos/1/paper.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"].startswith("attachment")
    assert "sandbox" in answer.headers["content-security-policy"]
    assert client.get("/stock/999/photos").status_code == 404
    with open_shop.database.write() as session:
        assert session.exec(select(StockItem)).all() and not session.exec(select(Blank)).all()
        assert not session.exec(select(BlankStep)).all()
        assert photos.sweep(session, tmp_path) == 0


def test_nothing_that_was_sent_is_opened_in_the_servers_own_process(
    client: TestClient, open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither by a page nor by a program: whatever a file can do to a library is done to a process of its own."""

    def never(*_: object, **__: object) -> None:
        raise AssertionError("opened here")

    with open_shop.database.write() as session:
        serial = made.opened(session, open_shop.maker, 1)[0].serial
        key = tokens.make(session, open_shop.owner, TokenAsked(name="x", scopes=[Scope.WORK]))[1]
    files = {"jpeg": jpeg(), "pdf": pdf(2).getvalue()}
    red = jpeg("red")
    monkeypatch.setattr(Image, "open", never)
    monkeypatch.setattr(pypdf.PdfReader, "__init__", never)
    for content in files.values():
        answer = client.post(f"/blanks/{serial}/photos", files=sending(content), follow_redirects=False)
        assert answer.status_code == 303
    bearer = {"authorization": f"Bearer {key}", "content-type": "image/jpeg"}
    assert client.post(f"/api/v1/blanks/{serial}/photos", content=red, headers=bearer).status_code == 201
    # What it can't do is told at the field, and the shop goes on.
    bomb = hostile_files.png(7900, 7900, 6)
    answer = client.post(f"/blanks/{serial}/photos", files=sending(bomb))
    assert (answer.status_code, "too many pixels" in answer.text) == (422, True)
    answer = client.post(
        f"/api/v1/blanks/{serial}/photos", content=bomb, headers=bearer | {"content-type": "image/png"}
    )
    assert (answer.status_code, answer.json()["errors"][0]["field"]) == (422, "file")
    assert client.get(f"/blanks/{serial}").status_code == 200
