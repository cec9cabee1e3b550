"""Backups as the owner sees them: what is kept, how the last one went, and one more at the touch of a button."""

import threading
from datetime import timedelta
from typing import Any

from fastapi import APIRouter
from fastapi.responses import FileResponse, Response

from webapp.jobs import schedule
from webapp.keeping.backups import rotation
from webapp.keeping.backups.archive import is_by_hand, moment_of
from webapp.keeping.backups.schedule import make_if_due
from webapp.pages.frame.desk import Act, View
from webapp.shop.base.errors import NotFound
from webapp.shop.people import diary
from webapp.shop.work_counts import BACKUP

router = APIRouter()


@router.get("/shop/backups")
def show(desk: View) -> Response:
    done_at, fault = schedule.state(desk.session, BACKUP)
    folder = desk.settings.backup_folder
    return desk.render(
        "shop/backups.html",
        backups=[
            (moment, path.name, path.stat().st_size, is_by_hand(path)) for moment, path in rotation.backups(folder)
        ],
        done_at=done_at,
        fault=fault,
        hours=desk.settings.backup_hours,
        keeps=(rotation.DAYS, rotation.WEEKS, rotation.MONTHS),
        beside=folder.resolve().is_relative_to(desk.settings.data.resolve()),
    )


@router.post("/shop/backups")
def make(desk: Act) -> Response:
    diary.write(desk.session, desk.who, "shop", 1, "Asked for a backup")
    desk.commit()
    state: Any = desk.request.app.state
    # Beside the request: with many photos it takes its time. Where another process is at it already, that one will do.
    work = (state.settings, state.database, timedelta(0), True)
    threading.Thread(target=make_if_due, args=work, name="backup", daemon=True).start()
    return desk.go("/shop/backups?said=A+backup+is+being+made+and+checked.+Look+again+in+a+moment.")


@router.get("/shop/backups/{name}")
def hand_out(desk: View, name: str) -> Response:
    known = {path.name: path for _, path in rotation.backups(desk.settings.backup_folder)}
    if name not in known or moment_of(known[name]) is None:
        raise NotFound("There is no such backup.")
    with desk.request.app.state.database.write() as session:
        diary.write(session, desk.who, "shop", 1, f"Took the backup {name} away")
    return FileResponse(known[name], media_type="application/x-tar", filename=name)
