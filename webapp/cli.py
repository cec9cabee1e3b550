"""The command `flutebench`: serve, demo, migrate, user; those that keep the data safe are in keeping/commands.py."""

import secrets
import sqlite3
from typing import Annotated

import typer
from pydantic import ValidationError
from sqlalchemy.exc import OperationalError

from webapp import db, logs, process
from webapp.keeping import certificates
from webapp.keeping.commands import register
from webapp.settings import Settings

app = typer.Typer(
    help="Flutebench, the shop on your own machine.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

Host = Annotated[str | None, typer.Option(help="Address to listen on; 0.0.0.0 for the shop's network.")]
Port = Annotated[int | None, typer.Option(help="Port to listen on.")]
# Seconds for which an idle connection stays open: longer than reverse proxies keep theirs (60), or what one of them
# sends at that moment meets a connection that is being closed.
KEPT_OPEN = 75


def main() -> None:
    """Run the command line; a known trouble ends in one line on standard error."""
    logs.set_up(json=False)
    try:
        app()
    except (db.SchemaTooNew, OperationalError, sqlite3.Error, OSError) as error:
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
    _bring_up_to_date(settings)
    typer.echo(f"The shop opens at {_scheme(settings)}://{settings.host}:{settings.port}/")
    _serve(settings)


@app.command()
def demo(
    host: Host = None,
    port: Port = None,
    fresh: Annotated[bool, typer.Option(help="Throw the old demo away and make it anew.")] = False,
    serve: Annotated[bool, typer.Option(help="Start the server too.")] = True,
) -> None:
    """Start an invented shop with work at every stage, in a folder of its own beside the real data."""
    from seed_demo.make import OWNER, make_demo

    settings = _settings(host=host, port=port)
    folder = settings.data / "demo"
    settings = settings.model_copy(update={"data": folder, "database_url": ""})
    path = folder / "shop.sqlite3"
    if fresh:
        for old in folder.glob("shop.sqlite3*"):
            old.unlink()
    if not path.exists():
        typer.echo("Making the demo shop ...")
        partial = folder / "being-made.sqlite3"
        for old in folder.glob("being-made.sqlite3*"):
            old.unlink()
        make_demo(f"sqlite:///{partial.resolve()}", secrets.token_urlsafe(16))
        db.copy_sqlite(partial, path)
        for old in folder.glob("being-made.sqlite3*"):
            old.unlink()
    db.migrate(settings.database)
    password = secrets.token_hex(6)
    _change_password(settings, OWNER, password)
    typer.echo(f"The demo shop opens at http://{settings.host}:{settings.port}/")
    typer.echo(f"Sign in as {OWNER} with the password {password} (new at every start).")
    if serve:
        _serve(settings)


@app.command()
def migrate() -> None:
    """Bring the database's schema up to date, keeping a backup of a SQLite file first."""
    _bring_up_to_date(_settings())


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

    try:
        _change_password(_settings(), sign_in_name, password, without_second_step)
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
    seal.renew()
    database = db.Database(settings.database)
    with database.write() as session:
        done = second_step.seal_anew(session, seal)
    database.close()
    seal.forget_old()
    typer.echo(
        f"A new key lies in {settings.data}; {done} second {'step was' if done == 1 else 'steps were'} sealed with it."
    )


def _bring_up_to_date(settings: Settings) -> None:
    if db.migrate(settings.database, settings.data / "backups"):
        typer.echo("The database's schema is now up to date.")


def _change_password(settings: Settings, sign_in_name: str, password: str, without_second_step: bool = False) -> None:
    from webapp.shop.people import accounts, second_step

    database = db.Database(settings.database)
    with database.write() as session:
        person = accounts.set_password(session, sign_in_name, password.strip())
        if without_second_step:
            second_step.forget(session, person)
    database.close()


register(app, _settings)
