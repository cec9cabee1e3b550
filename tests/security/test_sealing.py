"""The key that seals secrets: made once, even by two processes at once, and of use to nobody else."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from webapp.security.sealing import FILE, Seal


def test_of_many_that_begin_at_once_all_use_one_key(tmp_path: Path) -> None:
    seals = [Seal(tmp_path) for _ in range(8)]
    with ThreadPoolExecutor(8) as pool:
        sealed = list(pool.map(lambda seal: seal.seal("a secret"), seals))
    assert all(Seal(tmp_path).open(text) == "a secret" for text in sealed)
    assert [path.name for path in tmp_path.iterdir()] == [FILE]


def test_what_can_not_be_opened_is_nothing(tmp_path: Path) -> None:
    sealed = Seal(tmp_path / "a").seal("a secret")
    assert Seal(tmp_path / "none").open(sealed) is None
    Seal(tmp_path / "b").seal("another")
    assert Seal(tmp_path / "b").open(sealed) is None
    (tmp_path / "b" / FILE).write_bytes(b"broken")
    assert Seal(tmp_path / "b").open(sealed) is None


def test_what_is_sealed_twice_looks_different(tmp_path: Path) -> None:
    seal = Seal(tmp_path)
    assert len({seal.seal("a secret") for _ in range(10)}) == 10
