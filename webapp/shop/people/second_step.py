"""The second step of signing in: six digits from a telephone (TOTP, RFC 6238), or one of the codes on paper."""

import hashlib
import secrets
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import pyotp
from pydantic import BaseModel, Field
from sqlmodel import Session, col, delete, func, select

from webapp.models import Person, Role, SecondStepFor, Shop, SignIn, SpareCode, now
from webapp.security.passwords import slowly
from webapp.security.sealing import Seal
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find, held
from webapp.shop.people import news as account_news
from webapp.shop.people.accounts import Proof, Who, digest

STEP: Final = 30
"""Seconds for which one code stands (RFC 6238, 5.2, recommends 30)."""
SPARE: Final = 8
# Without letters that are taken for others when read off paper.
_LETTERS: Final = "abcdefghjkmnpqrstuvwxyz23456789"
_SALT: Final = 16  # hexadecimal digits before each digest: 64 bits


class PasswordAgain(BaseModel):
    """One's own password, asked for once more."""

    present: str = Field(min_length=1)


class CodeAsked(PasswordAgain):
    """The code that the telephone shows, typed to prove that it was set up, with the secret it was set up with.

    The password too, so that nobody does it to someone else's open screen.
    """

    secret: str = Field(min_length=32, max_length=32, pattern=r"^[A-Z2-7]{32}$")
    code: str = Field(min_length=1, max_length=20)


@dataclass(frozen=True, slots=True)
class SpareCodes:
    """Fresh codes for paper, and what is kept of them."""

    codes: list[str]
    digests: list[str]


@dataclass(frozen=True, slots=True)
class Recognised:
    """A code that was right when it was compared: the time step of the telephone's, or what is kept of a spare one."""

    step: int = 0
    spare: str = ""


def new_secret() -> str:
    """160 random bits in base 32, as RFC 4226, 4, R6 recommends."""
    return pyotp.random_base32()


def address(secret: str, sign_in_name: str, shop_name: str) -> str:
    """What the QR code says to the telephone."""
    return pyotp.TOTP(secret).provisioning_uri(name=sign_in_name, issuer_name=shop_name)


def new_spare_codes() -> SpareCodes:
    """Hashing them takes a while: to be done before anything is locked. Raises Crowded."""
    codes = ["".join(secrets.choice(_LETTERS) for _ in range(10)) for _ in range(SPARE)]
    salt = secrets.token_hex(_SALT // 2)
    digests = slowly(lambda: [_salted(salt, code) for code in codes])
    return SpareCodes([f"{code[:5]}-{code[5:]}" for code in codes], digests)


def switch_on(
    session: Session, who: Who, seal: Seal, asked: CodeAsked, proof: Proof, spare: SpareCodes, token: str = ""
) -> None:
    """From now on signing in takes a code too, and where only the password was asked for, sign-ins end; the one of
    `token` alone goes on. Raises Invalid."""
    me = _proved(session, who, proof)
    step = _step_of(asked.secret, asked.code, 0)
    if step is None:
        raise Invalid({"code": "That is not the code of this moment. Is the telephone's clock right?"})
    me.code_secret = seal.seal(asked.secret)
    me.code_used = step
    session.add(me)
    _keep(session, who.id, spare)
    session.exec(delete(SignIn).where(col(SignIn.person_id) == who.id, col(SignIn.token_digest) != digest(token)))
    account_news.tell(session, who, me, "The second step was switched on")


def renew_spare_codes(session: Session, who: Who, proof: Proof, spare: SpareCodes) -> None:
    """Fresh codes on paper in place of those left. Raises Invalid."""
    me = _proved(session, who, proof)
    _keep(session, who.id, spare)
    account_news.tell(session, who, me, "New spare codes were made")


def switch_off(session: Session, who: Who, proof: Proof) -> None:
    """The password alone is enough again. Raises Invalid, also where the shop wants a second step."""
    me = _proved(session, who, proof)
    if is_wanted(session, who):
        raise Invalid({"present": "The shop's owner wants a second step here, so it stays on."})
    _forget(session, me)
    account_news.tell(session, who, me, "The second step was switched off")


def take_away(session: Session, who: Who, person_id: int) -> None:
    """The owner takes away the second step of someone who lost their telephone, and ends their sign-ins.

    Raises NotAllowed, NotFound.
    """
    who.must()
    person = find(session, Person, person_id, "person", lock=True)
    _forget(session, person)
    # The lost telephone may be signed in itself.
    session.exec(delete(SignIn).where(col(SignIn.person_id) == person.id))
    account_news.tell(session, who, person, "The second step was taken away")


def is_wanted(session: Session, who: Who) -> bool:
    """Whether the shop's rules want a second step of this person."""
    shop = session.get(Shop, 1)
    return shop is not None and is_wanted_of(shop, who.role)


def is_wanted_of(shop: Shop, role: Role) -> bool:
    """Whether the shop's rules want a second step of everyone with this role."""
    wanted = shop.second_step_for
    return wanted is SecondStepFor.EVERYONE or (wanted is SecondStepFor.OWNERS and role is Role.OWNER)


def forget(session: Session, person: Person) -> None:
    """For the command line: no second step any more."""
    _forget(session, person)


def seal_again(session: Session, seal: Seal) -> int:
    """Seal everyone's secret with the newest key; gives how many. What no key opens is left as it is."""
    done = 0
    for person in session.exec(held(select(Person).where(col(Person.code_secret).is_not(None)))):
        secret = seal.open(person.code_secret or "")
        if secret is not None:
            person.code_secret = seal.seal(secret)
            session.add(person)
            done += 1
    return done


def kept_spare_codes(session: Session, person_id: int) -> list[str]:
    """What is kept of the spare codes that are left."""
    return list(session.exec(select(SpareCode.digest).where(SpareCode.person_id == person_id)))


def recognised(seal: Seal, person: Person, kept: Collection[str], code: str) -> Recognised | None:
    """What the code is: one of the telephone's (also one that was taken before), or one of the spare ones `kept`.

    Hashing takes a while: to be done before anything is locked. Raises Crowded.
    """
    typed = "".join(code.split()).replace("-", "").lower()
    if typed.isascii() and typed.isdigit() and len(typed) == 6:
        secret = seal.open(person.code_secret or "")
        step = _step_of(secret, typed, 0) if secret else None
        return Recognised(step=step) if step is not None else None
    if len(typed) != 10 or person.id is None:
        return None
    spare = slowly(lambda: _spare(person.id or 0, kept, typed))
    return Recognised(spare=spare) if spare is not None else None


def use_up(session: Session, person_id: int, found: Recognised) -> bool:
    """Take the code, which is good once; False where it was taken before."""
    person = find(session, Person, person_id, "person", lock=True)
    if found.spare:
        used = session.exec(
            delete(SpareCode).where(col(SpareCode.person_id) == person_id, col(SpareCode.digest) == found.spare)
        )
        if used.rowcount != 1:
            return False
        account_news.tell(session, None, person, "A spare code was used to sign in")
        return True
    if found.step <= person.code_used:
        account_news.tell(session, None, person, "A code from the telephone was typed a second time and refused")
        return False
    person.code_used = found.step
    session.add(person)
    return True


def can_be_checked(seal: Seal, person: Person) -> bool:
    """Whether the key of this place opens the person's secret: a backup restored elsewhere comes without it."""
    return seal.open(person.code_secret or "") is not None


def spare_codes_left(session: Session, person_id: int) -> int:
    return session.exec(select(func.count()).select_from(SpareCode).where(SpareCode.person_id == person_id)).one()


def _step_of(secret: str, code: str, after: int) -> int | None:
    """The time step whose code this is: the present one or a neighbour (RFC 6238, 5.2), later than `after`."""
    here = int(now().timestamp()) // STEP
    made = pyotp.TOTP(secret)
    for step in (here, here - 1, here + 1):
        if step > after and secrets.compare_digest(made.at(step * STEP), "".join(code.split())):
            return step
    return None


def _keep(session: Session, person_id: int, spare: SpareCodes) -> None:
    session.exec(delete(SpareCode).where(col(SpareCode.person_id) == person_id))
    session.add_all(SpareCode(digest=one, person_id=person_id) for one in spare.digests)


def _spare(person_id: int, kept: Collection[str], typed: str) -> str | None:
    """What is kept of the spare code that was typed, where it is one of this person's that is left."""
    # Codes made before they were salted.
    tried = [digest(f"spare code {person_id} {typed}")]
    if tried[0] not in kept:
        tried += [_salted(salt, typed) for salt in {one[:_SALT] for one in kept}]
    return next((one for one in tried if one in kept), None)


def _salted(salt: str, code: str) -> str:
    """What is kept of a spare code: its salt, which all codes made together share, and a slow hash. A code has 49
    random bits, fewer than the 112 that would do without either (NIST SP 800-63B, 5.1.2.2)."""
    hashed = hashlib.scrypt(code.encode(), salt=bytes.fromhex(salt), n=2**13, r=8, p=1, dklen=(64 - _SALT) // 2)
    return salt + hashed.hex()


def _forget(session: Session, person: Person) -> None:
    person.code_secret = None
    session.add(person)
    session.exec(delete(SpareCode).where(col(SpareCode.person_id) == person.id))


def _proved(session: Session, who: Who, proof: Proof) -> Person:
    me = find(session, Person, who.id, "person", lock=True)
    if not proof.of(me):
        raise Invalid({"present": "The password was changed just now."})
    return me
