"""Secrets that systemd hands to the service: encrypted on the disk with a key of this computer or of its TPM, and there
in plain only for the service, only while it runs (systemd.exec(5), 'Credentials'; systemd-creds(1))."""

import os
from pathlib import Path

PREFIX = "flutebench_"
NAMES = ("seal_key", "database_url", "metrics_token")
STORE = Path("/etc/credstore.encrypted")


def folder() -> Path | None:
    """Where they lie for this process, if it was given any."""
    named = os.environ.get("CREDENTIALS_DIRECTORY", "")
    return Path(named) if named and Path(named).is_dir() else None


def given(name: str) -> Path | None:
    """The file of one secret, where this process was given it."""
    here = folder()
    file = here / (PREFIX + name) if here else None
    return file if file is not None and file.is_file() else None


def stored(store: Path = STORE) -> list[Path]:
    """The encrypted files that this computer keeps for the service."""
    return [store / (PREFIX + name) for name in NAMES if (store / (PREFIX + name)).exists()]
