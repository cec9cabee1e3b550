"""Where this program keeps what it can make again at any time: subsets of typefaces, compiled templates.

Apart from the shop's data: nothing here is backed up or moved, and all of it may be thrown away.
"""

import os
from functools import cache
from pathlib import Path


@cache
def cache_folder(part: str) -> Path | None:
    """A folder of the account's own for one kind of thing, or None where there is no place to write.

    systemd names one by CACHE_DIRECTORY (systemd.exec, CacheDirectory=), desktops by XDG_CACHE_HOME (XDG Base Directory
    Specification).
    """
    named = os.environ.get("CACHE_DIRECTORY", "").split(":")[0] or os.environ.get("XDG_CACHE_HOME", "")
    try:
        base = Path(named) if named else Path.home() / ".cache"
        folder = base / "flutebench" / part
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        # Compiled templates are run: nobody else may lay one down.
        if os.name != "nt" and (folder.stat().st_uid != os.geteuid() or folder.stat().st_mode & 0o022):
            return None
        return folder if os.access(folder, os.W_OK) else None
    except (OSError, RuntimeError):
        return None
