"""What the server holds in memory after so many rounds through the main pages of the demo: does it go on growing?

python -m tests.load.memory [--rounds 10] [--each 100]
"""

import argparse
import secrets
import tempfile
from pathlib import Path

import httpx2

from seed_demo.make import make_demo
from tests.load.person import PAGES
from tests.load.serving import PASSWORD, memory, serving
from tests.load.written import prepare


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=10)
    parser.add_argument("--each", type=int, default=100, help="times each page is asked in a round")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'shop.sqlite3'}"
        make_demo(url, PASSWORD)
        shop, _ = prepare(url, 1)
        with serving(url, Path(folder)) as (address, pid):
            headers = {"origin": address, "cookie": f"flutebench={shop.tokens[0]}"}
            with httpx2.Client(base_url=address, headers=headers, timeout=30, trust_env=False) as client:
                print(f"at the start: {memory(pid):.1f} MB")
                for n in range(asked.rounds):
                    for _ in range(asked.each):
                        for page in PAGES:
                            assert client.get(page).status_code == 200
                        form = {"quantity": "1", "once": secrets.token_urlsafe(16)}
                        assert client.post(f"/stock/{shop.item_id}/receive", data=form).status_code == 303
                    print(
                        f"after {(n + 1) * asked.each * (len(PAGES) + 1):6} requests: {memory(pid):.1f} MB", flush=True
                    )


if __name__ == "__main__":
    main()
