"""What the server and its workers hold in memory over a long run through the demo: does it go on growing?

    python -m tests.load.memory [--rounds 8] [--each 50]

Each round asks every main page `each` times, sends as many forms, and asks for a few heavy things: travelers as PDF, a
new pattern, dates from the queue. The first rounds fill caches; what counts is the growth after them.
"""

import argparse
import secrets
import tempfile
from pathlib import Path

import httpx2

from seed_demo.make import make_demo
from tests.load.person import PAGES, Shop
from tests.load.serving import PASSWORD, machine, memory, serving
from tests.load.written import prepare

WARM = 3  # rounds that fill caches
PAPERS = 4  # of each round


def workers(pid: int) -> float:
    """MB that the processes beside the server hold together."""
    lists = [path.read_text().split() for path in Path(f"/proc/{pid}/task").glob("*/children")]
    return sum(memory(int(child)) for some in lists for child in some)


def round_of(client: httpx2.Client, shop: Shop, each: int) -> int:
    """How many requests it was."""
    things = [f"/blanks/{shop.serials[0]}", f"/bench/{shop.bench[0][0]}", f"/orders/{shop.orders[0]}"]
    for n in range(each):
        for page in (*PAGES, *things):
            assert client.get(page).status_code == 200, page
        receipt = {"quantity": "1", "once": secrets.token_urlsafe(16)}
        assert client.post(f"/stock/{shop.item_id}/receive", data=receipt).status_code == 303
        serial, fingering, pitch = shop.bench[n % len(shop.bench)]
        reading = {"fingering": fingering, "pitch": f"{pitch:.1f}", "temperature": "21", "humidity": "45"}
        reading["once"] = secrets.token_urlsafe(16)
        assert client.post(f"/bench/{serial}/readings", data=reading).status_code == 303
    for n in range(PAPERS):
        assert client.get(f"/blanks/{shop.serials[n]}/traveler.pdf").status_code == 200
        design = f"/patterns/design?key={'AGED'[n]}4&scale=minor+pentatonic&holes=6&bore=7/8&wall=1/4"
        assert client.get(design).status_code == 200
        assert client.get("/promise").status_code == 200
    return each * (len(PAGES) + len(things) + 2) + 3 * PAPERS


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=8)
    parser.add_argument("--each", type=int, default=50, help="times each page is asked in a round")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'shop.sqlite3'}"
        make_demo(url, PASSWORD)
        shop, _ = prepare(url, 1)
        with serving(url, Path(folder)) as (address, pid):
            headers = {"origin": address, "cookie": f"flutebench={shop.tokens[0]}"}
            with httpx2.Client(base_url=address, headers=headers, timeout=60, trust_env=False) as client:
                print(f"{'MB after so many requests':28}{'server':>10}{'workers':>10}")
                print(f"{0:<28}{memory(pid):10.1f}{workers(pid):10.1f}")
                sent, held = [0], [memory(pid)]
                for _ in range(asked.rounds):
                    sent.append(sent[-1] + round_of(client, shop, asked.each))
                    held.append(memory(pid))
                    print(f"{sent[-1]:<28}{held[-1]:10.1f}{workers(pid):10.1f}", flush=True)
    if len(held) > WARM + 1:
        grown = 1000 * (held[-1] - held[WARM]) / (sent[-1] - sent[WARM])
        print(f"the server grew by {grown:+.2f} MB in 1,000 requests after the first {sent[WARM]:,}; {machine()}")


if __name__ == "__main__":
    main()
