"""The command `flutebench`: serve, demo, migrate, user; those that keep the data safe are in keeping/commands.py."""

import os
import secrets
import sqlite3
from importlib.metadata import version
from pathlib import Path
from typing import Annotated

import typer
from pydantic import ValidationError
from sqlalchemy.exc import OperationalError

from webapp import db
from webapp.keeping import certificates
from webapp.keeping.backups import leftovers
from webapp.keeping.commands import StopShop, register
from webapp.keeping.hold import in_use
from webapp.serving import logs, process
from webapp.settings import Settings

app = typer.Typer(
    help="Flutebench, the shop on your own machine.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
)

Host = Annotated[str | None, typer.Option(help="Address to listen on; 0.0.0.0 for the shop's network.")]
Port = Annotated[int | None, typer.Option(help="Port to listen on.")]
# Seconds for which an idle connection stays open: longer than reverse proxies keep theirs (60), or what one of them
# sends at that moment meets a connection that is being closed.
KEPT_OPEN = 75
# Seconds that a server waits for one that is just bringing the schema up to date, or for one that is ending.
PATIENCE = 15.0


def _say_version(asked: bool) -> None:
    if asked:
        typer.echo(f"Flutebench {version('flutebench')}")
        raise typer.Exit


@app.callback()
def _always(
    version: Annotated[
        bool, typer.Option("--version", callback=_say_version, is_eager=True, help="Say which version this is.")
    ] = False,
) -> None:
    """Flutebench, the shop on your own machine."""


def main() -> None:
    """Run the command line; a known trouble ends in one line on standard error."""
    logs.set_up(json=False)
    # Whatever is written is for the account of the shop alone: it holds names, addresses, prices and keys.
    os.umask(0o077)
    try:
        app()
    except (db.SchemaTooNew, in_use.InUse, OperationalError, sqlite3.Error, OSError) as error:
        text = str(error.orig) if isinstance(error, OperationalError) else str(error)
        typer.echo(f"flutebench: {text}", err=True)
        raise SystemExit(1) from error


def _settings(**given: object) -> Settings:
    try:
        return Settings(**{name: value for name, value in given.items() if value is not None})  # type: ignore[arg-type]
    except ValidationError as error:
        for item in error.errors():
            typer.echo(f"flutebench: setting {'.'.join(map(str, item['loc']))}: {item['msg']}", err=True)
        raise typer.Exit(2) from error


def _scheme(settings: Settings) -> str:
    """https where the shop has a certificate of its own; behind a proxy, that is the proxy's matter."""
    return "https" if certificates.days_left(settings.data) is not None and not settings.proxies else "http"


def _serve(settings: Settings) -> None:
    import uvicorn

    from webapp.app import make_app
    from webapp.pages.bench.live import LARGEST_MESSAGE
    from webapp.pages.frame.rendering import compile_all

    process.serve_people()
    logs.set_up(json=settings.log_json)
    compile_all()
    secure = _scheme(settings) == "https"
    files = certificates.Files.of(settings.data)
    uvicorn.run(
        make_app(settings),
        host=settings.host,
        port=settings.port,
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=bool(settings.proxies),
        forwarded_allow_ips=settings.proxies or None,
        timeout_keep_alive=KEPT_OPEN,
        timeout_graceful_shutdown=10,
        ws_max_size=LARGEST_MESSAGE,
        ssl_certfile=files.certificate if secure else None,
        ssl_keyfile=files.key if secure else None,
        ssl_ciphers=certificates.CIPHERS,
    )


@app.command()
def serve(host: Host = None, port: Port = None) -> None:
    """Bring the database up to date and start the shop."""
    settings = _settings(host=host, port=port)
    _bring_up_to_date(settings, "serve", PATIENCE)
    with in_use.used(settings.database, "serve", patience=PATIENCE, serving=True):
        for path in leftovers.sweep(settings):
            typer.echo(f"Removed {path}, left half made by a program that was cut short.")
        typer.echo(f"The shop opens at {_scheme(settings)}://{settings.host}:{settings.port}/")
        _serve(settings)


@app.command()
def demo(
    host: Host = None,
    port: Port = None,
    fresh: Annotated[bool, typer.Option(help="Throw the old demo away and make it again.")] = False,
    serve: Annotated[bool, typer.Option(help="Start the server too.")] = True,
) -> None:
    """Start an invented shop with work at every stage, in a folder of its own beside the real data."""
    from seed_demo.make import OWNER

    settings = _settings(host=host, port=port)
    folder = settings.data / "demo"
    settings = settings.model_copy(update={"data": folder, "database_url": ""})
    folder.mkdir(parents=True, exist_ok=True)
    if fresh or not (folder / "shop.sqlite3").exists():
        with in_use.used(settings.database, "demo", alone=True, patience=PATIENCE):
            _make_demo(folder, fresh)
    with in_use.used(settings.database, "demo", patience=PATIENCE):
        db.migrate(settings.database)
        password = secrets.token_hex(6)
        _change_password(settings, OWNER, password)
        typer.echo(f"The demo shop opens at http://{settings.host}:{settings.port}/")
        typer.echo(f"Sign in as {OWNER} with the password {password} (new at every start).")
        if serve:
            _serve(settings)


def _make_demo(folder: Path, fresh: bool) -> None:
    from seed_demo.make import make_demo

    path, partial = folder / "shop.sqlite3", folder / "being-made.sqlite3"
    for name in ["shop.sqlite3"] * fresh + ["being-made.sqlite3"]:
        _remove_database(folder / name)
    if not path.exists():
        typer.echo("Making the demo shop ...")
        make_demo(f"sqlite:///{partial.resolve()}", secrets.token_urlsafe(16))
        db.copy_sqlite(partial, path)
        _remove_database(partial)


def _remove_database(path: Path) -> None:
    for ending in ("", "-wal", "-shm"):
        path.with_name(path.name + ending).unlink(missing_ok=True)


@app.command()
def migrate(stop_shop: StopShop = False) -> None:
    """Bring the database's schema up to date, keeping a backup of a SQLite file first."""
    settings = _settings()
    if not _bring_up_to_date(settings, "migrate", stop=stop_shop):
        typer.echo(f"The schema of {in_use.place(settings.database)} is up to date already.")


@app.command()
def user(
    sign_in_name: str,
    password: Annotated[str, typer.Option(prompt=True, hide_input=True, confirmation_prompt=True)],
    without_second_step: Annotated[
        bool, typer.Option("--without-second-step", help="Take the second step away: the telephone is lost.")
    ] = False,
) -> None:
    """Set the password of someone who has an account, and end their sign-ins everywhere."""
    from webapp.shop.base.errors import ShopError

    settings = _settings()
    try:
        with in_use.used(settings.database, "user"):
            _change_password(settings, sign_in_name, password, without_second_step)
    except ShopError as error:
        typer.echo(f"flutebench: {error}", err=True)
        raise typer.Exit(1) from error
    typer.echo(f"{sign_in_name} now has the new password.")


@app.command(name="new-seal")
def new_seal() -> None:
    """Make a new key for the secrets of second steps, seal them with it, and throw the old key away."""
    from webapp.security.sealing import Seal
    from webapp.shop.people import second_step

    settings = _settings()
    seal = Seal(settings.data)
    with in_use.used(settings.database, "new-seal"):
        try:
            seal.renew()
        except PermissionError as error:
            typer.echo(f"flutebench: {error}", err=True)
            raise typer.Exit(1) from error
        database = db.Database(settings.database)
        with database.write() as session:
            done = second_step.seal_again(session, seal)
        database.close()
        seal.forget_old()
    typer.echo(
        f"A new key lies in {settings.data}; {done} second {'step was' if done == 1 else 'steps were'} sealed with it."
    )


def _bring_up_to_date(settings: Settings, program: str, patience: float = 0.0, stop: bool = False) -> bool:
    """Alone, where there is something to change: a server that knows the older schema must not be at it."""
    settings.data.mkdir(parents=True, exist_ok=True)
    if db.schema_revision(settings.database) == db.newest_revision():
        return False
    with in_use.used(settings.database, program, alone=True, stop=stop, patience=patience):
        changed = db.migrate(settings.database, settings.data / "backups")
    if changed:
        typer.echo(f"The schema of {in_use.place(settings.database)} is now up to date.")
    return changed


def _change_password(settings: Settings, sign_in_name: str, password: str, without_second_step: bool = False) -> None:
    from webapp.shop.people import accounts, second_step

    database = db.Database(settings.database)
    with database.write() as session:
        person = accounts.set_password(session, sign_in_name, password.strip())
        if without_second_step:
            second_step.forget(session, person)
    database.close()


register(app, _settings)
