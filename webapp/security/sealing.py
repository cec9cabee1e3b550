"""Sealed texts: what the program must be able to read again, but someone with a copy of the database must not.

The keys lie in a file of the data folder, outside the database, readable by its owner alone: one a line, the newest
first; with that one texts are sealed, with any of them opened. Fernet (AES-128-CBC with HMAC-SHA-256) of the library
`cryptography`. The file is read each time, since another process may have renewed it.
Where systemd keeps the keys encrypted for the service, those are used, and they are changed there alone.
"""

import os
import secrets
from pathlib import Path

from cryptography.fernet import Fernet, InvalidToken, MultiFernet

from webapp import db
from webapp.security import credentials

FILE = "seal.key"


class Seal:
    """Seals and opens short texts with the keys of one data folder; the first is made when it is needed."""

    def __init__(self, folder: Path) -> None:
        kept_by_system = credentials.given("seal_key")
        self._path = kept_by_system or folder / FILE
        self._is_ours = kept_by_system is None

    def seal(self, text: str) -> str:
        """Raises OSError where the key can't be written."""
        if not self._path.exists():
            self._make()
        return self._keys().encrypt(text.encode()).decode()

    def open(self, sealed: str) -> str | None:
        """The text, or None where this folder's keys do not open it."""
        try:
            return self._keys().decrypt(sealed.encode()).decode()
        except (InvalidToken, FileNotFoundError, ValueError):
            return None

    def renew(self) -> None:
        """A new key before the others: it seals from now on, and they still open. Raises OSError."""
        self._must_be_ours()
        old = self._path.read_bytes() if self._path.exists() else b""
        beside = self._written(Fernet.generate_key() + b"\n" + old)
        beside.replace(self._path)
        db.settle(self._path.parent)

    def forget_old(self) -> None:
        """Keep the newest key alone: what older ones sealed is opened no more. Raises OSError."""
        self._must_be_ours()
        newest = self._path.read_bytes().split()[0]
        self._written(newest).replace(self._path)
        db.settle(self._path.parent)

    def _must_be_ours(self) -> None:
        if not self._is_ours:
            raise PermissionError("The key is kept by systemd: see the guide on how it is changed.")

    def _keys(self) -> MultiFernet:
        return MultiFernet([Fernet(key) for key in self._path.read_bytes().split()])

    def _make(self) -> None:
        """Written beside and linked into place, so that of two processes one key wins and both read that one."""
        beside = self._written(Fernet.generate_key())
        try:
            os.link(beside, self._path)
        except FileExistsError:
            pass
        finally:
            beside.unlink()
        db.settle(self._path.parent)  # what is sealed with it must not outlast it

    def _written(self, keys: bytes) -> Path:
        """A file of these keys beside the one that counts, on the disk."""
        self._path.parent.mkdir(parents=True, exist_ok=True)
        beside = self._path.with_name(f"{FILE}.{secrets.token_hex(8)}")
        file = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(file, "wb") as writing:
            writing.write(keys)
            writing.flush()
            os.fsync(writing.fileno())
        return beside
