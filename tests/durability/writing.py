"""People at work while the server is being killed: each receives stock, and remembers what was acknowledged."""

import secrets
import threading
import time
from dataclasses import dataclass, field

import httpx2


@dataclass
class Entry:
    """One form: the note that it writes down, its own key, and whether the server acknowledged it."""

    note: str
    once: str = field(default_factory=lambda: secrets.token_urlsafe(16))
    acknowledged: bool = False


@dataclass
class Writer:
    """Sends one form after the other; one that got no answer is sent again with its key until it does."""

    number: int
    address: str
    cookie: str
    item_id: int
    entries: list[Entry] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)

    def run(self, end: threading.Event) -> None:
        """Until `end` is set, and then until nothing waits for an answer any more."""
        headers = {"origin": self.address, "cookie": f"flutebench={self.cookie}"}
        with httpx2.Client(base_url=self.address, headers=headers, timeout=10, trust_env=False) as client:
            while not end.is_set():
                entry = Entry(f"{self.number}.{len(self.entries)}")
                self.entries.append(entry)
                while not self._send(client, entry):
                    time.sleep(0.02)

    def _send(self, client: httpx2.Client, entry: Entry) -> bool:
        try:
            form = {"quantity": "1", "note": entry.note, "once": entry.once}
            answer = client.post(f"/stock/{self.item_id}/receive", data=form)
        except httpx2.TransportError:
            return False
        # "/" where it was carried out just before a kill, too late to note where it leads to.
        if answer.status_code == 303 and answer.headers["location"] in (f"/stock/{self.item_id}", "/"):
            entry.acknowledged = True
            return True
        if answer.status_code == 503:  # the database was locked for too long: to be sent again
            return False
        self.odd.append(f"{answer.status_code} {answer.text[:200]}")
        return True
