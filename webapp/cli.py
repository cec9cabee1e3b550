"""The command `flutebench`: serve, demo, migrate, user, backup, restore."""

import secrets
import sqlite3
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer
from pydantic import ValidationError
from sqlalchemy.exc import OperationalError

from webapp import db, logs
from webapp.settings import Settings

app = typer.Typer(help="Flutebench, the shop on your own machine.", no_args_is_help=True, add_completion=False)

Host = Annotated[str | None, typer.Option(help="Address to listen on; 0.0.0.0 for the shop's network.")]
Port = Annotated[int | None, typer.Option(help="Port to listen on.")]


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


def _serve(settings: Settings) -> None:
    import uvicorn

    from webapp.app import make_app
    from webapp.pages.bench_live import LARGEST_MESSAGE

    logs.set_up(json=settings.log_json)
    uvicorn.run(
        make_app(settings),
        host=settings.host,
        port=settings.port,
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=bool(settings.proxies),
        forwarded_allow_ips=settings.proxies or None,
        timeout_graceful_shutdown=10,
        ws_max_size=LARGEST_MESSAGE,
    )


@app.command()
def serve(host: Host = None, port: Port = None) -> None:
    """Bring the database up to date and start the shop."""
    settings = _settings(host=host, port=port)
    _bring_up_to_date(settings)
    typer.echo(f"The shop opens at http://{settings.host}:{settings.port}/")
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
) -> None:
    """Set the password of someone who has an account, and end their sign-ins everywhere."""
    from webapp.shop.errors import ShopError

    try:
        _change_password(_settings(), sign_in_name, password)
    except ShopError as error:
        typer.echo(f"flutebench: {error}", err=True)
        raise typer.Exit(1) from error
    typer.echo(f"{sign_in_name} now has the new password.")


@app.command()
def backup(
    to: Annotated[Path | None, typer.Option(help="File to write; it must not exist yet.")] = None,
) -> None:
    """Copy the SQLite database, consistently, while the shop is running or not."""
    settings = _settings()
    source = _sqlite_file(settings)
    if not source.exists():
        typer.echo(f"flutebench: there is no database at {source}", err=True)
        raise typer.Exit(1)
    target = to or settings.data / "backups" / f"shop-{datetime.now(UTC):%Y%m%d-%H%M%S}.sqlite3"
    if target.exists():
        typer.echo(f"flutebench: {target} exists already", err=True)
        raise typer.Exit(1)
    db.copy_sqlite(source, target)
    typer.echo(f"Copied to {target}")


@app.command()
def restore(
    file: Path,
    over: Annotated[bool, typer.Option("--over", help="Replace the present database (a copy is kept).")] = False,
) -> None:
    """Put a backup in the place of the database. Stop the shop first."""
    settings = _settings()
    target = _sqlite_file(settings)
    if not file.is_file():
        typer.echo(f"flutebench: there is no file {file}", err=True)
        raise typer.Exit(1)
    if target.exists() and not over:
        typer.echo(f"flutebench: {target} exists; say --over to replace it (a copy is kept)", err=True)
        raise typer.Exit(1)
    if target.exists():
        kept = settings.data / "backups" / f"before-restore-{datetime.now(UTC):%Y%m%d-%H%M%S}.sqlite3"
        db.copy_sqlite(target, kept)
        typer.echo(f"The present database is kept as {kept}")
    # First beside the present one, so that a broken backup replaces nothing.
    checked = target.with_name(target.name + ".restoring")
    db.copy_sqlite(file, checked)
    db.migrate(f"sqlite:///{checked.resolve()}")
    for leftover in ("-wal", "-shm"):
        target.with_name(target.name + leftover).unlink(missing_ok=True)
        checked.with_name(checked.name + leftover).unlink(missing_ok=True)
    checked.replace(target)
    typer.echo(f"Restored {file} to {target}")


def _bring_up_to_date(settings: Settings) -> None:
    if db.migrate(settings.database, settings.data / "backups"):
        typer.echo("The database's schema is now up to date.")


def _sqlite_file(settings: Settings) -> Path:
    path = db.sqlite_path(settings.database)
    if path is None:
        typer.echo("flutebench: for PostgreSQL use pg_dump and pg_restore", err=True)
        raise typer.Exit(1)
    return path


def _change_password(settings: Settings, sign_in_name: str, password: str) -> None:
    from webapp.shop import accounts

    database = db.Database(settings.database)
    with database.write() as session:
        accounts.set_password(session, sign_in_name, password.strip())
    database.close()
