"""Password hashing with Argon2id, at the library's current recommended cost."""

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

_hasher = PasswordHasher()

# Verified against when the name is unknown, so that the time taken tells nothing about who has an account.
_NOBODY = _hasher.hash("no one has this password")


def hash_password(password: str) -> str:
    return _hasher.hash(password)


def verify_password(password: str, stored: str | None) -> bool:
    """Whether the password fits; takes as long for an unknown person (`stored` None) as for a wrong password."""
    try:
        return _hasher.verify(stored or _NOBODY, password) and stored is not None
    except (VerificationError, InvalidHashError):
        return False


def needs_rehash(stored: str) -> bool:
    """Whether the stored hash was made at a lower cost than today's."""
    return _hasher.check_needs_rehash(stored)
