"""A real server to load: the demo shop on either database, `flutebench serve` on it, and what it holds in memory."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import httpx2

from seed_demo.make import make_demo
from tests import postgresql
from tests.durability.test_several_processes import free_port
from webapp.keeping.moving import move

PASSWORD = "for this measurement alone"


def demo_shops(folder: Path, kinds: list[str]) -> Iterator[tuple[str, str, Path]]:
    """The demo shop on one kind of database after the other: kind, address, and a folder of its own."""
    made = f"sqlite:///{folder / 'made.sqlite3'}"
    make_demo(made, PASSWORD)
    with ExitStack() as stack:
        for kind in kinds:
            place = folder / kind
            place.mkdir()
            url = f"sqlite:///{place / 'shop.sqlite3'}"
            if kind == "postgresql":
                url = stack.enter_context(empty_postgresql())
            move(made, url)
            yield kind, url, place


@contextmanager
def empty_postgresql() -> Iterator[str]:
    """The address of an empty database on a server that keeps what it acknowledges, as one does in earnest."""
    before = dict(postgresql.SETTINGS)
    postgresql.SETTINGS.update(postgresql.AS_SHIPPED | {"shared_buffers": "128MB"})
    try:
        with postgresql.running_server() as server:
            yield server.url(server.create())
    finally:
        postgresql.SETTINGS.update(before)


@contextmanager
def serving(url: str, folder: Path) -> Iterator[tuple[str, int]]:
    """`flutebench serve` on this database; its address and process."""
    port = free_port()
    environment = os.environ | {"FLUTEBENCH_DATA": str(folder), "FLUTEBENCH_DATABASE_URL": url}
    program = [str(Path(sys.executable).with_name("flutebench")), "serve", "--port", str(port)]
    with (folder / "log").open("w") as log:
        process = subprocess.Popen(program, env=environment, stdout=log, stderr=log)
        address = f"http://127.0.0.1:{port}"
        try:
            for _ in range(600):
                try:
                    if httpx2.get(f"{address}/readyz", trust_env=False).status_code == 200:
                        break
                except httpx2.TransportError:
                    time.sleep(0.1)
            yield address, process.pid
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(timeout=60)


def memory(pid: int) -> float:
    """MB that the server's process holds in memory, without its workers."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return 0.0


def processor(pid: int) -> float:
    """Seconds of processor time that the server's process has taken, without its workers."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def machine() -> str:
    """How busy the machine is, to stand beside a table."""
    return f"{os.cpu_count()} cores, load average {' '.join(f'{one:.1f}' for one in os.getloadavg())}"
