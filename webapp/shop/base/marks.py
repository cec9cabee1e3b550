"""A mark of what something says: it is another one as soon as anything of it changes."""

import hashlib
from collections.abc import Mapping
from typing import Any


def marked(present: Mapping[str, Any]) -> str:
    """Sixteen hexadecimal digits of what these fields say now."""
    text = "\n".join(f"{name}={value!s}" for name, value in sorted(present.items()))
    return hashlib.sha256(text.encode()).hexdigest()[:16]
