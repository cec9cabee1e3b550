"""The commands that keep a shop safe: backup, restore, move, doctor, certificate, service."""

import socket
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, TypeVar

import typer
from sqlalchemy.exc import SQLAlchemyError

from webapp import db
from webapp.keeping import certificates, doctor, moving, service
from webapp.keeping.backups import backing_up, restoring, rotation
from webapp.keeping.backups.archive import PHOTOS, NotSound
from webapp.keeping.hold import in_use
from webapp.security.sealing import FILE
from webapp.settings import Settings, database_address

Result = TypeVar("Result")
StopShop = Annotated[bool, typer.Option("--stop-shop", help="Ask the running shop on this computer to end first.")]
SEALED = (
    "The key that opens the secrets of second steps lies in no backup. Either copy {key} from the folder where the "
    "shop was, or take the step away and let it be set up again: flutebench user NAME --without-second-step. "
    "Spare codes on paper work here too."
)


def register(app: typer.Typer, settings_of: Callable[[], Settings]) -> None:
    """Add the commands to the command line; `settings_of` reads the settings or ends the program with a line."""

    @app.command()
    def backup(
        to: Annotated[Path | None, typer.Option(help="File to write; it must not exist yet.")] = None,
        rotate: Annotated[bool, typer.Option(help="Remove old backups that need not stay.")] = False,
    ) -> None:
        """Back up database and photos, consistently, while the shop is running or not, and check the backup."""
        settings = settings_of()
        made, strange = _or_end(lambda: _backed_up(settings, to, by_hand=not rotate))
        place = in_use.place(settings.database)
        typer.echo(f"Backed up {place} to {made.resolve()}, restored in a scratch place and found whole.")
        for odd in strange:
            typer.echo(f"LOOK: {odd}. This backup would be refused when it is restored: remove that from the shop.")
        if rotate:
            typer.echo(f"{len(rotation.rotate(settings.backup_folder))} old backups removed.")

    @app.command()
    def check(file: Path) -> None:
        """Restore a backup in a scratch place and say whether it is whole; changes nothing."""
        contents = _or_end(lambda: backing_up.check(settings_of(), file))
        typer.echo(
            f"{file} is whole: {sum(contents.rows.values())} rows in {len(contents.rows)} tables, "
            f"{len(contents.files) - 1} photos, made {contents.made_at[:16]} UTC."
        )

    @app.command()
    def restore(
        file: Path,
        over: Annotated[bool, typer.Option("--over", help="Replace what is there (a backup of it is kept).")] = False,
        stop_shop: StopShop = False,
    ) -> None:
        """Put a backup in the place of the shop's data, with nobody at work there."""
        settings = settings_of()
        done = _or_end(lambda: restoring.restore(settings, file, over, stop_shop))
        if done.kept:
            typer.echo(f"What was there is kept as {done.kept.resolve()}")
        typer.echo(f"Restored {file} to {done.place}, pictures to {(settings.data / PHOTOS).resolve()}.")
        if done.locked_out:
            typer.echo(f"LOOK: codes of the second step fail here for {', '.join(done.locked_out)}.")
            typer.echo(SEALED.format(key=FILE))

    @app.command()
    def move(
        to: Annotated[str, typer.Argument(help="Address of an empty database.")], stop_shop: StopShop = False
    ) -> None:
        """Copy the whole shop to another database, SQLite to PostgreSQL or back, and prove every row equal."""
        settings = settings_of()
        try:
            database_address(to)
        except ValueError as error:
            raise typer.BadParameter(str(error)) from None
        moved = _or_end(lambda: moving.move(settings.database, to, stop_shop))
        typer.echo(f"{sum(moved.rows.values())} rows in {len(moved.rows)} tables are there, each compared and equal.")
        typer.echo("The old database is as it was. To use the new one, set FLUTEBENCH_DATABASE_URL to its address.")

    @app.command(name="doctor")
    def examine(mend: Annotated[bool, typer.Option("--mend", help="Put right what can be put right.")] = False) -> None:
        """Look over the installation: libraries, database, disk, clock, who can read what, age of the backups."""
        unwell, can_be_mended = 0, False
        for found in doctor.examine(settings_of()):
            told, well = found.said, found.well
            if not well and mend and found.mend is not None:
                try:
                    told, well = found.mend(), True
                except (NotSound, in_use.InUse, db.SchemaTooNew, OSError, SQLAlchemyError, sqlite3.Error) as error:
                    told = f"{found.said}; could not be mended: {error}"
            can_be_mended = can_be_mended or (not well and found.mend is not None)
            typer.echo(f"{'well ' if found.well else 'done ' if well else 'LOOK '} {found.what}: {told}")
            unwell += not well
        if can_be_mended and not mend:
            typer.echo("Some of it can be put right by the program: flutebench doctor --mend")
        if unwell:
            raise typer.Exit(1)

    @app.command()
    def certificate(
        names: Annotated[
            list[str] | None, typer.Argument(help="Names and IP addresses by which tablets reach this computer.")
        ] = None,
    ) -> None:
        """Make a certificate of the shop's own, so that tablets on its network can use the microphone."""
        settings = settings_of()
        wanted = names or [socket.gethostname(), "localhost", *_addresses_here()]
        files = _or_end(lambda: certificates.make(settings.data, wanted))
        typer.echo(f"Made for {', '.join(wanted)}; good for {certificates.days_left(settings.data)} days.")
        typer.echo("From its next start the shop opens with https. Once on each tablet:")
        typer.echo(f"  1. bring the file {files.authority} to it (the page /trust hands it out)")
        typer.echo("  2. iPad: open it, then Settings, General, VPN & Device Management, install; then General, About,")
        typer.echo("     Certificate Trust Settings, switch it on. Android: Settings, Security, Install a certificate,")
        typer.echo("     CA certificate. Windows, Mac, Linux: add it to the browser's or system's authorities.")
        typer.echo(f"  3. compare the fingerprint: {certificates.fingerprint(settings.data)}")
        typer.echo(f"Keep {files.authority_key} to yourself: who has it can pretend to be any site to those tablets.")

    @app.command(name="service")
    def print_service(
        user: Annotated[str, typer.Option(help="The account that the shop runs under.")] = "",
    ) -> None:
        """Print a systemd unit that keeps the shop running; put it in /etc/systemd/system/flutebench.service."""
        typer.echo(service.unit(settings_of(), user), nl=False)


def _backed_up(settings: Settings, to: Path | None, by_hand: bool) -> tuple[Path, list[str]]:
    with in_use.used(settings.database, "backup"):
        return backing_up.back_up(settings, to, by_hand=by_hand)


def _or_end(work: Callable[[], Result]) -> Result:
    """Carry out the work; a known trouble ends the program with one line."""
    try:
        return work()
    except (NotSound, FileExistsError, in_use.InUse, restoring.AlreadyThere, moving.CanNotMove, ValueError) as error:
        typer.echo(f"flutebench: {error}", err=True)
        raise typer.Exit(1) from error


def _addresses_here() -> list[str]:
    """The IPv4 addresses that this computer's own name stands for."""
    try:
        found = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        return []
    return sorted({str(item[4][0]) for item in found})
