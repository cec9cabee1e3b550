"""The same list of blanks by a bare FastAPI, SQLite and Jinja app: the floor under what our page can take.

    python -m tests.load.floor [--blanks 1000 100000]

Both ask the same database for the same rows and are asked through the same test client.
"""

import argparse
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

import jinja2
from fastapi import FastAPI
from fastapi.responses import HTMLResponse
from fastapi.testclient import TestClient

from tests.load.rack_speed import fill, median_ms
from tests.load.serving import machine
from tests.shops import ORIGIN
from webapp.app import make_app
from webapp.pages.frame.cookies import SIGN_IN
from webapp.settings import Settings
from webapp.shop.blanks.lists import PAGE

PLAIN = """<!doctype html><title>Blanks</title><table>{% for row in rows %}
<tr><td><a href="/blanks/{{ row[0] }}">{{ row[0] }}</a><td>{{ row[1] }}<td>{{ row[2] }}<td>{{ row[3] }}
<td>{{ row[4] or '' }}<td>{{ row[5] or '' }}</tr>{% endfor %}</table>"""
ASKED = """SELECT b.serial, b.key, s.name, b.stage, b.next_name, b.due_on FROM blank b
JOIN species s ON s.id = b.species_id WHERE b.status = 'in work' ORDER BY b.due_on IS NULL, b.due_on, b.id LIMIT ?"""


def bare(path: Path) -> FastAPI:
    app = FastAPI()
    page = jinja2.Environment(autoescape=True).from_string(PLAIN)

    @app.get("/blanks")
    def blanks() -> HTMLResponse:
        with closing(sqlite3.connect(path)) as connection:
            return HTMLResponse(page.render(rows=connection.execute(ASKED, (PAGE,)).fetchall()))

    return app


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--blanks", type=int, nargs="+", default=[1_000, 100_000])
    asked = parser.parse_args()
    print(f"{f'median ms of a list of {PAGE} blanks':48}{'clock':>12}{'processor':>12}")
    for count in asked.blanks:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "shop.sqlite3"
            token = fill(f"sqlite:///{path}", count, 300)
            ours = make_app(Settings(data=Path(folder), database_url=f"sqlite:///{path}"))
            for name, app in (("bare", bare(path)), ("Flutebench", ours)):
                with TestClient(app, headers={"origin": ORIGIN}) as client:
                    client.cookies.set(SIGN_IN, token)
                    assert client.get("/blanks").text.count("<tr") >= 10
                    clock, processor = median_ms(lambda client=client: client.get("/blanks"))
                print(f"{f'{name}, {count:,} on record':48}{clock:12.1f}{processor:12.1f}", flush=True)
    print(machine())


if __name__ == "__main__":
    main()
