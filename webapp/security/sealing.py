"""Sealed texts: what the program must be able to read again, but someone with a copy of the database must not.

The key lies in a file of the data folder, outside the database, readable by its owner alone. Fernet (AES-128-CBC with
HMAC-SHA-256) of the library `cryptography`.
"""

import os
import secrets
from pathlib import Path

from cryptography.fernet import Fernet, InvalidToken

FILE = "seal.key"


class Seal:
    """Seals and opens short texts with the key of one data folder, which is made when first needed."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE
        self._fernet: Fernet | None = None

    def seal(self, text: str) -> str:
        """Raises OSError where the key can't be written."""
        return self._key(make=True).encrypt(text.encode()).decode()

    def open(self, sealed: str) -> str | None:
        """The text, or None where this folder's key does not open it."""
        try:
            return self._key(make=False).decrypt(sealed.encode()).decode()
        except (InvalidToken, FileNotFoundError, ValueError):
            return None

    def _key(self, make: bool) -> Fernet:
        if self._fernet is None:
            if make and not self._path.exists():
                self._make()
            self._fernet = Fernet(self._path.read_bytes())
        return self._fernet

    def _make(self) -> None:
        """Written beside and linked into place, so that of two processes one key wins and both read that one."""
        self._path.parent.mkdir(parents=True, exist_ok=True)
        beside = self._path.with_name(f"{FILE}.{secrets.token_hex(8)}")
        file = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(file, "wb") as writing:
            writing.write(Fernet.generate_key())
            writing.flush()
            os.fsync(writing.fileno())
        try:
            os.link(beside, self._path)
        except FileExistsError:
            pass
        finally:
            beside.unlink()
