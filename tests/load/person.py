"""One person at work in a load run: looks at pages, sends forms, and remembers what was acknowledged."""

import random
import secrets
import threading
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from html import unescape
from re import search

import httpx2

from tests.load.serving import PASSWORD

PAGES = (
    "/",
    "/orders",
    "/blanks",
    "/patterns",
    "/glue-up",
    "/bench",
    "/stock",
    "/customers",
    "/search?q=cedar",
    "/shop",
)
WRITES = 0.35  # share of what a person does that changes something
HEAVY = 0.03  # share that keeps a processor busy for long: papers, new patterns, dates from the queue, signing in


@dataclass
class Shop:
    """What there is to look at and to write to."""

    item_id: int
    tokens: list[str]
    steps: list[tuple[str, int]]  # a blank's serial and the step that comes next on it
    customers: list[int]
    serials: list[str]
    orders: list[int]
    bench: list[tuple[str, str, float]]  # a blank that can be read, a fingering of it, and the pitch it should have
    lock: threading.Lock = field(default_factory=threading.Lock)


@dataclass
class Asked:
    """One request: when it began, what it was, and the seconds until its answer was there."""

    at: float
    name: str
    took: float
    heavy: bool


@dataclass
class Worker:
    """One person, until `end`."""

    number: int
    address: str
    token: str
    shop: Shop
    pause: float
    heavy: float = HEAVY
    asked: list[Asked] = field(default_factory=list)
    odd: Counter[str] = field(default_factory=Counter)
    received: int = 0
    recorded: list[int] = field(default_factory=list)
    read: list[str] = field(default_factory=list)
    edited: dict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    refused: int = 0

    def run(self, end: float) -> None:
        dice = random.Random(self.number)
        headers = {"origin": self.address, "cookie": f"flutebench={self.token}"}
        # People do not all begin at the same moment.
        time.sleep(dice.random() * 2 * self.pause)
        with httpx2.Client(base_url=self.address, headers=headers, timeout=60, trust_env=False) as client:
            while time.monotonic() < end:
                if dice.random() < self.heavy:
                    dice.choice((self._paper, self._design, self._dates, self._sign_in))(client, dice)
                elif dice.random() < WRITES:
                    dice.choice((self._receive, self._record, self._read, self._edit))(client, dice)
                else:
                    self._look(client, dice)
                time.sleep(dice.random() * 2 * self.pause)

    def _ask(
        self,
        client: httpx2.Client,
        method: str,
        path: str,
        data: dict[str, str] | None = None,
        name: str = "",
        heavy: bool = False,
    ) -> httpx2.Response | None:
        began = time.perf_counter()
        try:
            answer = client.request(method, path, data=data)
        except httpx2.TransportError as error:
            self.odd[f"{name or path}: {type(error).__name__}"] += 1
            return None
        self.asked.append(Asked(began, name or path, time.perf_counter() - began, heavy))
        if answer.status_code not in (200, 204, 303) and not (answer.status_code == 409 and method == "POST"):
            self.odd[f"{name or path}: {answer.status_code}"] += 1
        return answer

    def _look(self, client: httpx2.Client, dice: random.Random) -> None:
        """A screen, or one thing of the shop."""
        things = {
            "a blank": f"/blanks/{dice.choice(self.shop.serials)}",
            "a blank at the bench": f"/bench/{dice.choice(self.shop.bench)[0]}",
            "an order": f"/orders/{dice.choice(self.shop.orders)}",
        }
        if dice.random() < 0.3:
            name = dice.choice(list(things))
            self._ask(client, "GET", things[name], name=name)
        else:
            self._ask(client, "GET", dice.choice(PAGES))

    def _paper(self, client: httpx2.Client, dice: random.Random) -> None:
        self._ask(client, "GET", f"/blanks/{dice.choice(self.shop.serials)}/traveler.pdf", None, "a traveler", True)

    def _design(self, client: httpx2.Client, dice: random.Random) -> None:
        key = dice.choice(("A4", "G4", "E4", "D4"))
        asked = f"/patterns/design?key={key}&scale=minor+pentatonic&holes=6&bore=7/8&wall=1/4"
        self._ask(client, "GET", asked, None, "a new pattern", True)

    def _dates(self, client: httpx2.Client, _dice: random.Random) -> None:
        self._ask(client, "GET", "/promise", None, "/promise", True)

    def _sign_in(self, client: httpx2.Client, _dice: random.Random) -> None:
        """In a browser of its own, so that the one at hand stays signed in."""
        form = {"sign_in_name": f"load{self.number}", "password": PASSWORD}
        headers = {"origin": self.address}
        with httpx2.Client(base_url=self.address, headers=headers, timeout=60, trust_env=False) as other:
            self._ask(other, "POST", "/sign-in", form, "POST sign-in", True)

    def _receive(self, client: httpx2.Client, _dice: random.Random) -> None:
        form = {"quantity": "1", "note": f"person {self.number}", "once": secrets.token_urlsafe(16)}
        answer = self._ask(client, "POST", f"/stock/{self.shop.item_id}/receive", form, "POST stock receipt")
        self.received += answer is not None and answer.status_code == 303

    def _record(self, client: httpx2.Client, _dice: random.Random) -> None:
        with self.shop.lock:
            if not self.shop.steps:
                return
            serial, step_id = self.shop.steps.pop()
        form = {"outcome": "passed", "once": secrets.token_urlsafe(16)}
        # Sent twice, as a browser does that had no answer: it must be carried out once.
        for _ in range(2):
            answer = self._ask(client, "POST", f"/blanks/{serial}/steps/{step_id}", form, "POST step")
        if answer is not None and answer.status_code == 303:
            self.recorded.append(step_id)

    def _read(self, client: httpx2.Client, dice: random.Random) -> None:
        serial, fingering, pitch = dice.choice(self.shop.bench)
        note = f"load {self.number}.{len(self.read)}"
        form = {
            "fingering": fingering,
            "pitch": f"{pitch * (1 - dice.random() / 100):.1f}",
            "temperature": "21",
            "humidity": "45",
            "note": note,
            "once": secrets.token_urlsafe(16),
        }
        answer = self._ask(client, "POST", f"/bench/{serial}/readings", form, "POST reading")
        if answer is not None and answer.status_code == 303:
            self.read.append(note)

    def _edit(self, client: httpx2.Client, dice: random.Random) -> None:
        """Open a customer, change the note, send it: whoever was slower gets 409."""
        customer = dice.choice(self.shop.customers)
        page = self._ask(client, "GET", f"/customers/{customer}/edit", name="GET customer, edit")
        if page is None or page.status_code != 200:
            return
        form = {
            name: unescape(found[1]) if (found := search(rf'name="{name}"[^>]*value="([^"]*)"', page.text)) else ""
            for name in ("name", "contact", "version")
        }
        form |= {"note": f"written by {self.number}: {secrets.token_hex(4)}", "once": secrets.token_urlsafe(16)}
        answer = self._ask(client, "POST", f"/customers/{customer}/edit", form, "POST customer")
        if answer is not None and answer.status_code == 303:
            self.edited[customer].append(int(form["version"]))
        self.refused += answer is not None and answer.status_code == 409
