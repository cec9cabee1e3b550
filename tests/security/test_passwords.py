"""Passwords: which are taken, how they are kept, and that a hostile one costs no more than another.

Sources: OWASP ASVS 4.0.3, 2.1.1 to 2.1.9, 2.4.1 to 2.4.5; NIST SP 800-63B, 5.1.1.2; the list of common passwords that
the library zxcvbn brings along.
"""

import inspect

import pytest
from argon2 import PasswordHasher, extract_parameters
from argon2.low_level import Type
from zxcvbn.frequency_lists import FREQUENCY_LISTS

from tests.fuzz.patience import within
from webapp.security import passwords
from webapp.shop.base.errors import Invalid
from webapp.shop.people import accounts


def taken(password: str, name: str = "ines") -> bool:
    try:
        accounts.check_password(password, name)
    except Invalid as refused:
        assert list(refused.errors) == ["password"]
        return False
    return True


def test_every_common_password_that_is_long_enough_is_refused() -> None:
    common = [word for word in FREQUENCY_LISTS["passwords"] if len(word) >= accounts.SHORTEST_PASSWORD]
    assert len(common) > 200
    assert [word for word in common if taken(word)] == []


@pytest.mark.parametrize(
    "password",
    [
        "tin horses run",
        "zinnerne Pferde laufen",
        "\N{HORSE}\N{HORSE} \N{TEACUP WITHOUT HANDLE} \N{SEEDLING} drei Wege",
        "\u99ac\u304c\u68ee\u3092\u8d70\u3063\u3066\u3044\u308b\u3088\u4eca\u65e5",
        "onlysmallletterswithoutanyspace",
        "  blanks   within  ",
        "correct battery " * 8,
    ],
)
def test_any_kind_of_character_is_taken_and_no_kind_is_demanded(password: str) -> None:
    assert taken(password)
    assert len(password) <= accounts.LONGEST_PASSWORD


@pytest.mark.parametrize("password", ["elevenchars", "x" * 129, "ines ines ines", "flutebench flutebench", " " * 20])
def test_too_short_too_long_or_made_of_what_everybody_knows(password: str) -> None:
    assert not taken(password)


def test_the_whole_of_it_counts_and_each_hash_has_its_own_salt(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(passwords, "_hasher", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    long = "a long sentence about nothing in particular, " * 2 + "and then its end: "
    kept = passwords.hash_password(long + "one")
    assert passwords.verify_password(long + "one", kept)
    assert not passwords.verify_password(long + "two", kept)
    assert not passwords.verify_password((long + "one")[:72], kept)
    assert passwords.hash_password(long + "one") != kept
    assert not passwords.verify_password(long + "one", None)
    assert not passwords.verify_password(long + "one", "no hash at all")


def test_the_cost_is_no_less_than_is_recommended() -> None:
    """At least 15 MiB and two rounds (OWASP, Password Storage Cheat Sheet), 128 bits of salt (RFC 9106)."""
    cost = extract_parameters(PasswordHasher().hash("nothing much"))
    assert cost.type is Type.ID
    assert cost.memory_cost >= 15 * 1024 and cost.time_cost >= 2 and cost.salt_len >= 16
    assert "PasswordHasher()" in inspect.getsource(passwords), "the program uses the library's own cost"


@pytest.mark.parametrize(
    "password",
    ["4@8({[<3$6901!|7+5%2z" * 6, "$5s" * 40, "1/1/91" * 20, "qwertyuiop" * 12, "({[<@4 " * 18, "\u00e9" * 128],
)
def test_a_hostile_password_is_weighed_at_once(password: str) -> None:
    """What may stand for letters in very many ways would hold the library up for seconds."""
    with within(1.0):
        accounts.strength(password)
        taken(password)
