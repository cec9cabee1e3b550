"""What each paper costs: time and size beside the bare PDF library with the same HTML, and a batch of fifty travelers.

Run: python -m tests.load.paper_speed [how many]. Prints a table; asserts nothing.
"""

import multiprocessing
import os
import resource
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

from sqlmodel import Session, select

from tests.databases import sqlite_url
from tests.paper.blanks import LONGEST, Wanted, put_on_the_bench
from webapp.db import Database, migrate
from webapp.models import Blank, BlankStatus, IssuedKind, IssuedPaper, Order, Paper, PatternRevision, Stage, Units
from webapp.paper.office.care_sheet import care_job, care_sheet
from webapp.paper.office.letters import draft_job, letter_job, packing_slip, slip_job
from webapp.paper.office.tuning_record import tuning_record
from webapp.paper.office.tuning_sheet import tuning_job
from webapp.paper.press.jobs import Job
from webapp.paper.press.workers import Press
from webapp.paper.strip.sheet import strip_job, strip_of
from webapp.paper.traveler.content import traveler, travelers_of_order
from webapp.paper.traveler.sheet import traveler_job
from webapp.shop.orders import issued
from webapp.shop.settings.setting_up import FirstRun, set_up

ROUNDS = 5
BATCH = 50
ADDRESS = "http://10.0.0.5:8000"


def processor_time() -> float:
    """What all workers of this process have used so far [s of processor time]."""
    total = 0.0
    for child in multiprocessing.active_children():
        fields = Path(f"/proc/{child.pid}/stat").read_text().rsplit(")", 1)[1].split()
        total += (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return total


def seconds(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """The quickest of a few rounds: what else the machine is doing only ever adds."""
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def bare(style: str, html: str) -> tuple[float, float, float, int]:
    """The library alone in a process of its own: a first and a later document [s], processor time of one, and bytes.

    Everything as its own documentation shows it: the same HTML and style sheets, fonts by @font-face.
    """
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(_bare, (style, html))


def _bare(style: str, html: str) -> tuple[float, float, float, int]:
    from weasyprint import CSS, HTML
    from weasyprint.text.fonts import FontConfiguration

    from webapp.paper.press import typeset

    def once() -> bytes:
        config = FontConfiguration()
        faces = CSS(string=typeset.font_faces(), font_config=config, url_fetcher=typeset._OnlyTypefaces())
        sheets = [
            faces,
            *(CSS(string=(typeset.STYLES / n).read_text(), font_config=config) for n in ("paper.css", style)),
        ]
        result: bytes = HTML(string=html).write_pdf(stylesheets=sheets, font_config=config)
        return result

    start = time.perf_counter()
    size = len(once())
    first = time.perf_counter() - start
    used = time.process_time()
    later = seconds(once)
    return first, later, (time.process_time() - used) / ROUNDS, size


def the_one_used(press: Press, job: Job) -> Job:
    """The job with only that version of its HTML which ends up being printed."""
    for version in job.versions[:-1]:
        one = Job(job.style, (version,))
        if press.print(one) == press.print(job):
            return one
    return Job(job.style, job.versions[-1:])


def highest_memory(stop: threading.Event, seen: list[float]) -> None:
    """Notes the workers' memory in MB [sum of their resident sets], as long as they work."""
    while not stop.wait(0.1):
        total = 0.0
        for child in multiprocessing.active_children():
            try:
                lines = Path(f"/proc/{child.pid}/status").read_text().splitlines()
            except OSError:
                continue
            total += sum(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS"))
        seen.append(total)


def shop_with(wanted: Wanted, folder: Path) -> Database:
    url = sqlite_url(folder / f"{wanted.serial}-{wanted.blanks}.db")
    migrate(url)
    database = Database(url)
    with database.write() as session:
        asked = FirstRun(
            shop_name="Alder Lane Flutes", owner_name="Ines", sign_in_name="ines", password="four short sticks"
        )
        set_up(session, asked)
    with database.write() as session:
        put_on_the_bench(session, wanted)
    return database


def office_papers(session: Session) -> dict[str, Callable[[], Job]]:
    """The papers of an order and of its flute, each with what makes its job again: read and HTML."""
    order = session.exec(select(Order)).one()
    blank = session.exec(select(Blank)).one()
    blank.status, blank.stage = BlankStatus.FINISHED, Stage.FINISHING
    session.add(blank)
    paper = IssuedPaper(
        order_id=order.id or 0,
        kind=IssuedKind.CONFIRMATION,
        number=1,
        issued_on=date(2026, 3, 3),
        content=issued.content_of(session, order),
        by=1,
    )
    session.commit()
    pattern = session.exec(select(PatternRevision)).one()
    return {
        "quote": lambda: draft_job(session, order),
        "confirmation": lambda: letter_job(paper, Paper.LETTER),
        "packing slip": lambda: slip_job(packing_slip(session, order)),
        "care sheet": lambda: care_job(care_sheet(session, blank.serial, "https://shop.invalid")),
        "tuning record": lambda: tuning_job(tuning_record(session, blank.serial, ADDRESS)),
        "layout strip": lambda: strip_job(strip_of(session, pattern.pattern_id, pattern.number, Units.INCH)),
    }


def one_line(press: Press, words: str, make: Callable[[], Job]) -> None:
    """Measures one paper and prints its line."""
    job = make()
    making = seconds(make)
    whole = seconds(lambda: press.print(job))
    used = processor_time()
    for _ in range(ROUNDS):
        press.print(job)
    used = (processor_time() - used) / ROUNDS
    first, alone, alone_used, size = bare(job.style, the_one_used(press, job).versions[0])
    ratio = (making + whole) / alone
    print(
        f"{words:22}{first:9.2f}s{alone:7.2f}s{making:10.3f}s{whole:7.2f}s{ratio:7.2f}"
        f"{alone_used:10.2f}s{used:8.2f}s{(making + used) / alone_used:7.2f}{size:9}"
    )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else BATCH
    press = Press()
    print(
        f"{'paper':22}{'bare first':>10}{'bare':>8}{'read+html':>11}{'press':>8}{'ratio':>7}"
        f"{'bare cpu':>11}{'cpu':>9}{'ratio':>7}{'bytes':>9}"
    )
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for words, wanted in (("ordinary", Wanted(steps=12, readings=True)), ("longest", LONGEST)):
            database = shop_with(wanted, folder)
            with database.read() as session:
                one_line(
                    press,
                    f"traveler, {words}",
                    lambda: traveler_job(traveler(session, wanted.serial, Units.INCH, ADDRESS)),  # noqa: B023
                )
            if words == "ordinary":
                with database.write() as session:
                    for kind, make in office_papers(session).items():
                        one_line(press, kind, make)
            database.close()
        batch(press, count, folder)
    press.close()


def batch(press: Press, count: int, folder: Path) -> None:
    """Travelers in one file: time, size and the most memory that the press's workers held together."""
    database = shop_with(Wanted(serial="AL-0001", blanks=count), folder)
    with database.read() as session:
        start = time.perf_counter()
        jobs = [traveler_job(t) for t in travelers_of_order(session, 7, Units.INCH, ADDRESS)]
        read = time.perf_counter() - start
    stop, seen = threading.Event(), [0.0]
    watch = threading.Thread(target=highest_memory, args=(stop, seen))
    watch.start()
    start = time.perf_counter()
    pdf = press.print_all(jobs)
    taken = time.perf_counter() - start
    stop.set()
    watch.join()
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"\nbatch of {count}: {read:.2f} s to read and write the HTML, {taken:.1f} s to print, "
        f"{len(pdf) / 1e6:.2f} MB; workers at most {max(seen):.0f} MB together, this process at most {own:.0f} MB"
    )
    database.close()


if __name__ == "__main__":
    main()
