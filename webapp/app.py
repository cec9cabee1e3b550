"""Builds the application: settings, database, middleware, and the one table of routes."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import timedelta
from functools import partial

from fastapi import FastAPI

from webapp.api.application import AT, DESCRIBED, make_api
from webapp.db import Database
from webapp.decoding.workers import Workers
from webapp.job_kinds import JOBS
from webapp.jobs.heartbeat import Heartbeat
from webapp.jobs.queue import Queue
from webapp.jobs.schedule import Scheduler
from webapp.keeping.backups.schedule import look_after_if_due, make_if_due
from webapp.keeping.writable import Writable
from webapp.pages.bench import (
    bench,
    learning,
    live as bench_live,
    played as bench_played,
    recording as bench_recording,
    sizes as bench_sizes,
)
from webapp.pages.blanks import (
    adhesives,
    blanks,
    defects,
    flute_page,
    glue_up,
    opening,
    other_keys,
    photos,
    rack,
    rescue,
    scan,
    together,
    travelers,
    yields,
)
from webapp.pages.frame import failures, health, papers, rendering
from webapp.pages.frame.kept_forms import KeptForms
from webapp.pages.frame.served import files
from webapp.pages.orders import (
    bills,
    books,
    customers,
    flute_pattern,
    flute_wood,
    flutes as order_flutes,
    mails,
    orders,
    parcel,
    payments,
    prices,
    promise,
    repairs,
    status,
    taking as order_taking,
)
from webapp.pages.patterns import (
    compare as pattern_compare,
    files as pattern_files,
    listen as pattern_listen,
    patterns,
    routing as pattern_routing,
    tolerance as pattern_tolerance,
    voicing as pattern_voicing,
)
from webapp.pages.people import (
    first_run,
    invitations,
    me,
    password_again,
    roles,
    second_step,
    sign_in,
    signing_in,
    tokens,
    who_did_what,
)
from webapp.pages.shelf import outlets, sales, shelf, taking as shelf_taking
from webapp.pages.shop import (
    backups,
    calendar,
    exports,
    flute_pages,
    guide,
    imports,
    routing,
    search,
    shop,
    trust,
    workshop,
)
from webapp.pages.stock import boards, cutting, labels, shelves, stock, wood_and_cost, woods
from webapp.paper.press.workers import Press
from webapp.security.addresses import NoNul
from webapp.security.headers import SecurityHeaders
from webapp.security.hosts import KnownHosts
from webapp.security.same_origin import SameOrigin
from webapp.security.sealing import Seal
from webapp.security.size_limit import SizeLimit
from webapp.serving.compression import Compression
from webapp.serving.request_log import Counts, NoteRoute, RequestLog
from webapp.settings import Settings

PAGES = [
    promise,
    tokens,
    imports,
    exports,
    health,
    files,
    first_run,
    sign_in,
    cutting,
    labels,
    shelves,
    boards,
    wood_and_cost,
    woods,
    stock,
    customers,
    order_taking,
    prices,
    payments,
    bills,
    books,
    repairs,
    status,
    parcel,
    mails,
    outlets,
    sales,
    shelf,
    shelf_taking,
    order_flutes,
    orders,
    papers,
    travelers,
    rack,
    rescue,
    pattern_compare,
    pattern_files,
    pattern_listen,
    pattern_routing,
    pattern_tolerance,
    pattern_voicing,
    patterns,
    opening,
    scan,
    together,
    flute_page,
    blanks,
    other_keys,
    flute_pattern,
    flute_wood,
    glue_up,
    guide,
    defects,
    yields,
    adhesives,
    photos,
    bench,
    bench_live,
    bench_played,
    bench_recording,
    bench_sizes,
    routing,
    workshop,
    learning,
    flute_pages,
    shop,
    me,
    calendar,
    second_step,
    invitations,
    password_again,
    signing_in,
    backups,
    trust,
    who_did_what,
    roles,
    search,
]


def make_app(settings: Settings, press: Press | None = None) -> FastAPI:
    """The application for these settings. The database must be migrated already (the command line sees to it).

    Papers are set by `press`, by one of its own where none is given; it is closed with the application.
    """

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        app.state.scheduler.start()
        app.state.heartbeat.start()
        photos.sweep(app)
        yield
        app.state.scheduler.stop()
        app.state.heartbeat.stop()
        app.state.queue.close()
        app.state.press.close()
        app.state.workers.close()
        app.state.database.close()

    app = FastAPI(title="Flutebench", docs_url=None, redoc_url=None, openapi_url=None, lifespan=lifespan)
    app.state.settings = settings
    app.state.database = Database(settings.database)
    app.state.writable = Writable(settings, app.state.database)
    app.state.templates = rendering.environment()
    app.state.press = press or Press()
    app.state.workers = Workers(scan=settings.scan)
    app.state.queue = Queue(app.state.database, press=app.state.press)
    app.state.heartbeat = Heartbeat(app.state.database, app.state.queue, JOBS)
    app.state.scheduler = Scheduler(*_periodic(settings, app.state.database))
    app.state.seal = Seal(settings.data)
    app.state.counts = Counts()
    failures.install(app)
    for page in PAGES:
        app.include_router(page.router)
    app.state.described = DESCRIBED
    app.mount(AT, make_api(app.state))
    # A recording that is somewhat too large is refused at its field, so the bench itself must get to see it.
    recordings = (r"/bench/[^/]+/recording", 4 * settings.largest_recording)
    pictures = (photos.PATHS, 4 * settings.largest_photo)
    app.add_middleware(NoteRoute)
    app.add_middleware(failures.Unexpected)
    app.add_middleware(SizeLimit, largest=settings.largest_form, larger=[recordings, pictures])
    app.add_middleware(KeptForms)
    app.add_middleware(SameOrigin)
    app.add_middleware(NoNul)
    app.add_middleware(KnownHosts, names=settings.known_hosts)
    app.add_middleware(SecurityHeaders)
    app.add_middleware(Compression)
    app.add_middleware(RequestLog, counts=app.state.counts)
    return app


def _periodic(settings: Settings, database: Database) -> list[Callable[[], object]]:
    tasks: list[Callable[[], object]] = [partial(look_after_if_due, database)]
    if settings.backup_hours:
        tasks.insert(0, partial(make_if_due, settings, database, timedelta(hours=settings.backup_hours)))
    return tasks
