"""The guide is true: its commands run, its settings and links exist, and what it names stands on the screens."""

import html
import re
import shlex
import shutil
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from starlette.routing import Match
from typer.main import get_command
from typer.testing import CliRunner

from webapp import cli
from webapp.app import make_app
from webapp.pages.frame.rendering import STATIC
from webapp.pages.shop.guide import CHAPTERS
from webapp.settings import Settings

ROOT = Path(__file__).parents[3]
SCREENS = ["/", "/orders", "/blanks", "/patterns", "/glue-up", "/bench", "/stock", "/shop"]
# Programs of others that the guide names: systemd's and PostgreSQL's own.
OTHERS = (
    "sudo systemctl enable --now ", "sudo -u postgres createuser ", "sudo -u postgres createdb ",
    "sudo mkdir -p /etc/credstore.encrypted", "sudo systemd-creds encrypt --name=flutebench_seal_key ",
)  # fmt: skip


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory, migrated_sqlite_file: Path) -> FastAPI:
    """A program over an empty database: the guide must be readable before there is a shop."""
    folder = tmp_path_factory.mktemp("guide")
    shutil.copyfile(migrated_sqlite_file, folder / "shop.sqlite3")
    return make_app(Settings(data=folder, database_url=""))


@pytest.fixture(scope="module")
def pages(app: FastAPI) -> dict[str, str]:
    """Each chapter's page, by its name."""
    with TestClient(app) as browser:
        found = {}
        for chapter in CHAPTERS:
            answer = browser.get(f"/guide/{chapter.name}", follow_redirects=False)
            assert answer.status_code == 200, chapter
            found[chapter.name] = answer.text.split("<main", 1)[1].split("</main>", 1)[0]
    return found


def texts(pages: dict[str, str], pattern: str) -> set[str]:
    found = [html.unescape(text) for page in pages.values() for text in re.findall(pattern, page, re.S)]
    assert found
    return {" ".join(text.split()) for text in found}


def test_the_contents_lead_to_every_chapter_and_one_page_has_them_all(app: FastAPI, pages: dict[str, str]) -> None:
    with TestClient(app) as browser:
        contents, everything = browser.get("/guide").text, browser.get("/guide/all").text
        assert browser.get("/guide/no-such").status_code == 404
    for chapter in CHAPTERS:
        assert f'href="/guide/{chapter.name}"' in contents
        assert f'<article class="guide guide--whole" id="{chapter.name}">' in everything
        assert f"<h1>{chapter.title}</h1>" in pages[chapter.name]
    chapters = {path.stem for path in (ROOT / "webapp/templates/guide/chapters").iterdir()}
    assert chapters == {chapter.name for chapter in CHAPTERS}


def test_every_command_of_the_guide_runs(
    pages: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, migrated_sqlite_file: Path
) -> None:
    monkeypatch.setenv("FLUTEBENCH_DATA", str(tmp_path))
    shutil.copyfile(migrated_sqlite_file, tmp_path / "shop.sqlite3")
    commands = texts(pages, r'<code class="command">(.*?)</code>')
    # Where a folder is set before it, tests/keeping follows the chapter word for word.
    commands = {command.removeprefix("FLUTEBENCH_DATA=NEW-FOLDER ") for command in commands}
    ours = {command for command in commands if command.startswith(".venv/bin/flutebench ")}
    assert all(command.startswith(OTHERS) for command in commands - ours)
    named = {shlex.split(command)[1] for command in ours}
    program = get_command(cli.app)
    assert named == set(program.commands)  # type: ignore[attr-defined]  # each has its place in the guide

    copy = tmp_path / "kept.tar"
    run(["backup", "--to", str(copy)], ok=True)
    for command in sorted(ours):
        words = shlex.split(command)[1:]
        words = [str(copy) if word == "FILE" else "nobody-yet" if word == "NAME" else word for word in words]
        if words[0] == "user":
            words += ["--password", "asked for at the keyboard"]
        if words[0] in ("serve", "demo", "user", "move"):
            # These wait for people, passwords or a further database: what is written must still be what they take.
            with program.commands[words[0]].make_context(words[0], words[1:]):  # type: ignore[attr-defined]
                continue
        if words[0] == "backup" and "--to" in words:
            copy.unlink()
        # Without --over, a shop that is there stays there; the doctor finds no fault only where all is set up.
        refused = words == ["restore", str(copy)]
        run(words, ok=None if words[0] == "doctor" else not refused)


def run(words: list[str], ok: bool | None) -> None:
    result = CliRunner().invoke(cli.app, words)
    assert result.exception is None or isinstance(result.exception, SystemExit), words
    assert ok is None or (result.exit_code == 0) is ok, (words, result.output)
    assert result.exit_code in (0, 1), (words, result.output)  # 2: what was typed is no such command


def test_every_setting_of_the_guide_is_one(pages: dict[str, str]) -> None:
    assert texts(pages, r'<code class="setting">(.*?)</code>') <= {name.upper() for name in Settings.model_fields}


def test_every_link_of_the_guide_leads_to_a_page_and_every_screen_is_described(
    app: FastAPI, pages: dict[str, str]
) -> None:
    links = texts(pages, r'href="(/[^"]*)"')
    for link in links:
        path, _, mark = link.partition("#")
        scope = {"type": "http", "method": "GET", "path": path}
        assert any(route.matches(scope)[0] is Match.FULL for route in app.routes), link
        if path.startswith("/guide/"):
            assert path.removeprefix("/guide/") in pages
        if mark and not path.startswith("/static/"):
            assert any(f'id="{mark}"' in text for text in sources(".html")), link
    described = set(re.findall(r'<dt><a href="([^"]*)"', pages["screens"]))
    assert described == set(SCREENS)
    way = (ROOT / "webapp/templates/frame/_way.html").read_text()
    assert re.findall(r'\bto\("[\w-]+", "(/[\w-]*)", "', way) == SCREENS


def test_what_the_guide_says_of_the_screens_stands_there(pages: dict[str, str]) -> None:
    """Every word it quotes from a screen is to be found in the program: a button renamed is noticed here."""
    raw = " ".join(sources(".html", ".py", ".js"))
    there = plain(raw) + " ".join(raw.lower().split())
    missing = [words for words in texts(pages, r'<b class="on-screen">(.*?)</b>') if plain(words) not in there]
    assert missing == []


def plain(text: str) -> str:
    """Without the marks of templates and the case, so that words that a template puts together can be found."""
    text = re.sub(r"{{ \"([^\"]*)\" if .*?}}", r"\1", re.sub(r"{%.*?%}", "", text))
    return " ".join(html.unescape(text).lower().split())


def sources(*endings: str) -> list[str]:
    folders = [ROOT / "webapp/templates", ROOT / "webapp/pages", ROOT / "webapp/shop", ROOT / "webapp/keeping"]
    paths = [path for folder in folders for path in folder.rglob("*") if "guide" not in path.parts and path.is_file()]
    paths = [path for path in paths if path.name != "guide.py"] + [*STATIC.glob("*.js"), ROOT / "webapp/trouble.py"]
    return [path.read_text() for path in paths if path.suffix in endings]


def test_its_pictures_are_there_and_light_enough_for_a_tablet(pages: dict[str, str]) -> None:
    used = texts(pages, r'<img src="/static/[0-9a-f]+/guide/([\w-]+)\.png"')
    kept = list((STATIC / "guide").iterdir())
    assert used == {path.stem for path in kept}
    assert sum(path.stat().st_size for path in kept) < 2_000_000
