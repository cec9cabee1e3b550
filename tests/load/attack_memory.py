"""What the server and its workers hold in memory before, during and after each attack that costs an attacker little.

    python -m tests.load.attack_memory [--only sign-ins pictures papers sound]

The memory is the resident set of the server and of all its descendants, read every 20 ms. Each attack is one of many
requests sent at the same moment; the answers are counted by their status.
"""

import argparse
import io
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path

import httpx2
from PIL import Image
from sqlmodel import select

from tests import blanks as made
from tests.durability.test_several_processes import free_port
from tests.load import hostile_files
from tests.load.serving import machine, memory
from webapp.db import Database, migrate
from webapp.models import Person
from webapp.shop.people import accounts
from webapp.shop.people.accounts import Who
from webapp.shop.settings.setting_up import FirstRun, set_up

PASSWORD = "for this measurement alone"
EVERY = 0.02  # s between two looks at the memory
CALM = 3.0  # s after an attack until the memory is read again
Attack = Callable[[httpx2.Client, int], httpx2.Response]


class Watch:
    """The most that a process and its descendants have held together, MB."""

    def __init__(self, pid: int) -> None:
        self._pid = pid
        self.most, self.of_server = 0.0, 0.0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> "Watch":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _look(self) -> None:
        while not self._over.wait(EVERY):
            self.most = max(self.most, held(self._pid))
            self.of_server = max(self.of_server, memory(self._pid))


def held(pid: int) -> float:
    """MB that a process and its descendants hold."""
    found = 0.0
    # A process may end while it is looked at.
    with suppress(OSError, ValueError):
        found += memory(pid)
        for path in Path(f"/proc/{pid}/task").glob("*/children"):
            found += sum(held(int(child)) for child in path.read_text().split())
    return found


@contextmanager
def serving(url: str, folder: Path) -> Iterator[tuple[str, int]]:
    """The server of the working copy that this script lies in; its address and process."""
    port = free_port()
    environment = os.environ | {"FLUTEBENCH_DATA": str(folder), "FLUTEBENCH_DATABASE_URL": url}
    program = [sys.executable, "-c", "from webapp.cli import main; main()", "serve", "--port", str(port)]
    with (folder / "log").open("w") as log:
        process = subprocess.Popen(program, env=environment, stdout=log, stderr=log, cwd=Path(__file__).parents[2])
        try:
            address = f"http://127.0.0.1:{port}"
            for _ in range(600):
                with suppress(httpx2.TransportError):
                    if httpx2.get(f"{address}/readyz", trust_env=False).status_code == 200:
                        break
                time.sleep(0.1)
            yield address, process.pid
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(timeout=60)


def a_shop(url: str) -> tuple[str, str]:
    """A shop with one blank: the blank's serial number, and a token of its owner's."""
    migrate(url)
    database = Database(url)
    with database.write() as session:
        asked = FirstRun(shop_name="Attacked", owner_name="Ines", sign_in_name="ines", password=PASSWORD)
        owner = set_up(session, asked)
        who = Who(owner.id or 0, owner.name, owner.role, asked.units)
        serial = made.opened(session, who, 1)[0].serial
        token = accounts.open_sign_in(session, session.exec(select(Person)).one(), 30)
    database.close()
    return serial, token


def sign_in(client: httpx2.Client, number: int) -> httpx2.Response:
    return client.post("/sign-in", data={"sign_in_name": f"nobody {number}", "password": "a wrong guess"})


def sending(address: str, field: str, content: bytes) -> Attack:
    """Sends the same file each time."""
    more = {"temperature": "21", "humidity": "45"}
    return lambda client, number: client.post(address, data=more, files={field: (f"{number}.bin", content)})


def photograph() -> bytes:
    """An honest picture of 12 million pixels, as a phone sends it."""
    into = io.BytesIO()
    Image.effect_noise((400, 300), 60).resize((4000, 3000)).convert("RGB").save(into, "JPEG", quality=88)
    return into.getvalue()


def attacks(serial: str) -> Iterator[tuple[str, str, int, Attack]]:
    """Group, name, how many at once, and what each sends."""
    yield "sign-ins", "40 sign-ins, unknown names", 40, sign_in
    yield "sign-ins", "200 sign-ins, unknown names", 200, sign_in
    photos, recording = f"/blanks/{serial}/photos", f"/bench/{serial}/recording"
    yield "pictures", "8 honest photographs, 12 Mpx JPEG", 8, sending(photos, "file", photograph())
    for name, content in hostile_files.pictures().items():
        yield "pictures", f"8 x {name}, {len(content) / 1000:.0f} kB", 8, sending(photos, "file", content)
    for name, content in hostile_files.papers().items():
        yield "papers", f"8 x {name}, {len(content) / 1000:.0f} kB", 8, sending(photos, "file", content)
    for name, content in hostile_files.sounds().items():
        yield "sound", f"8 x {name}, {len(content) / 1000:.0f} kB", 8, sending(recording, "recording", content)


def carried_out(address: str, token: str, at_once: int, attack: Attack) -> tuple[Counter[str], float]:
    """How the answers counted up, and how long it took."""
    begin = threading.Barrier(at_once)
    headers = {"origin": address, "cookie": f"flutebench={token}"}

    def one(number: int) -> str:
        # Each from an address of its own, as an attacker's computers are, or the count by address would hold them back.
        way = httpx2.HTTPTransport(local_address=f"127.0.{at_once % 251}.{number + 1}")
        with httpx2.Client(base_url=address, headers=headers, timeout=180, transport=way) as client:
            begin.wait()
            try:
                return str(attack(client, number).status_code)
            except httpx2.TransportError as error:
                return type(error).__name__

    before = time.perf_counter()
    with ThreadPoolExecutor(at_once) as pool:
        answers = Counter(pool.map(one, range(at_once)))
    return answers, time.perf_counter() - before


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="*", default=["sign-ins", "pictures", "papers", "sound"])
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'shop.sqlite3'}"
        serial, token = a_shop(url)
        with serving(url, Path(folder)) as (address, pid):
            print(f"{'MB of server and workers':52}{'before':>8}{'most':>8}{'after':>8}{'server':>8}{'s':>7}  answers")
            for group, name, at_once, attack in attacks(serial):
                if group not in asked.only:
                    continue
                before = held(pid)
                with Watch(pid) as watch:
                    answers, seconds = carried_out(address, token if group != "sign-ins" else "", at_once, attack)
                time.sleep(CALM)
                said = ", ".join(f"{count} x {status}" for status, count in sorted(answers.items()))
                figures = f"{before:8.0f}{watch.most:8.0f}{held(pid):8.0f}{watch.of_server:8.0f}{seconds:7.1f}"
                print(f"{name:52}{figures}  {said}", flush=True)
    print(machine())


if __name__ == "__main__":
    main()
