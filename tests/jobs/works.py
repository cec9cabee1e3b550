"""What jobs of the tests do in a worker process, which imports this module alone."""

import os
import time

from webapp.db import Database
from webapp.jobs import claims
from webapp.jobs.job import JobFailed
from webapp.models import Forecast


def dies_once(database: Database, run_id: int) -> None:
    with database.read() as session:
        before = session.get_one(Forecast, run_id).done
    claims.save(database, Forecast, run_id, done=1)
    if not before:
        os._exit(3)
    claims.save(database, Forecast, run_id, result={"try": "second"})


def always_dies(_database: Database, _run_id: int) -> None:
    os._exit(3)


def sleeps(_database: Database, _run_id: int) -> None:
    time.sleep(600)


def refuses(_database: Database, _run_id: int) -> None:
    raise JobFailed("The queue is empty.")


def breaks(_database: Database, _run_id: int) -> None:
    raise ValueError("not for people")
