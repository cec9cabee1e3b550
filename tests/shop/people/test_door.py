"""The door: guesses are slowed without locking the owner out; the second step; invitations."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pyotp
import pytest
from sqlmodel import Session, col, select

from tests.shops import PASSWORD, OpenShop
from webapp.models import FailedTry, Invitation, Person, SignIn, SpareCode, at, now
from webapp.security.sealing import FILE, Seal
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound
from webapp.shop.people import accounts, diary, door, invitations, second_step
from webapp.shop.people.door import Entered, Visitor
from webapp.shop.people.second_step import CodeAsked, PasswordAgain

HERE, THERE = Visitor("192.0.2.7", "Firefox on Linux"), Visitor("198.51.100.9")
NEW = "six long cedar boards"


def enter(session: Session, visitor: Visitor, name: str = "tam") -> Entered:
    person = door.check(session, visitor, name, PASSWORD)
    assert person is not None
    return door.let_in(session, visitor, person, PASSWORD, 30)


def guess(session: Session, visitor: Visitor, name: str, times: int) -> None:
    for _ in range(times):
        assert door.check(session, visitor, name, "a wrong guess") is None
        door.note_failure(session, visitor, name)


def test_guessing_a_name_is_slowed_but_not_for_a_browser_that_was_here_before(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        known = Visitor("192.0.2.7", known=enter(session, HERE).known)
        assert known.known
        guess(session, THERE, " TAM ", door.TRIES_BY_NAME)
        for visitor in (THERE, HERE):
            with pytest.raises(Invalid, match="Too many wrong tries"):
                door.check(session, visitor, "tam", PASSWORD)
        assert enter(session, known).known == ""
        # Someone else's known browser helps nobody.
        with pytest.raises(Invalid):
            door.check(session, Visitor("192.0.2.7", known=enter(session, HERE, "bo").known), "tam", PASSWORD)
        # The person can see it, once, without the guesses' number filling the diary.
        lines = [e.what for e in diary.read(session, "person", open_shop.maker.id)]
        assert sum("wrong password" in line for line in lines) == 1
        with at(now() + door.WINDOW + timedelta(seconds=1)):
            assert enter(session, THERE).token
        # A known browser's own guesses are counted too.
        guess(session, known, "tam", door.TRIES_BY_KNOWN)
        with pytest.raises(Invalid):
            door.check(session, known, "tam", PASSWORD)


def test_guessing_many_names_from_one_place_is_slowed_and_tries_are_kept_for_a_day(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        for n in range(door.TRIES_BY_ADDRESS):
            door.note_failure(session, THERE, f"nobody {n}")
        with pytest.raises(Invalid):
            door.check(session, THERE, "tam", PASSWORD)
        assert door.check(session, HERE, "tam", PASSWORD)
        kept = session.exec(select(FailedTry)).all()
        assert all("198.51" not in one.address_digest and "nobody" not in one.name_digest for one in kept)
        with at(now() + door.KEPT + timedelta(minutes=1)):
            door.note_failure(session, THERE, "nobody")
        assert len(session.exec(select(FailedTry)).all()) == 1


def test_the_second_step(open_shop: OpenShop, tmp_path: Path) -> None:
    seal, secret = Seal(tmp_path), second_step.new_secret()
    moment = datetime(2026, 5, 4, 9, 0, 5, tzinfo=UTC)
    phone = pyotp.TOTP(secret)
    with open_shop.database.write() as session, at(moment):
        with pytest.raises(Invalid):
            second_step.switch_on(
                session, open_shop.maker, seal, CodeAsked(present=PASSWORD, secret=secret, code="000000")
            )
        asked = CodeAsked(present=PASSWORD, secret=secret, code=phone.at(moment))
        codes = second_step.switch_on(session, open_shop.maker, seal, asked)
        me = session.get_one(Person, open_shop.maker.id)
        assert secret not in (me.code_secret or "")
        assert seal.open(me.code_secret or "") == secret
        assert Seal(tmp_path / "elsewhere").open(me.code_secret or "") is None
        assert (tmp_path / FILE).stat().st_mode & 0o077 == 0
        assert len(codes) == second_step.SPARE

        entered = enter(session, HERE)
        assert entered.awaits_code
        assert accounts.who_is(session, entered.token) is None
        with pytest.raises(Invalid, match="code of this moment"):  # the code that switched it on is used up
            door.enter_with_code(session, seal, HERE, entered.token, phone.at(moment), 30)
    with open_shop.database.write() as session, at(moment + timedelta(seconds=40)):
        code = phone.at(moment + timedelta(seconds=40))
        full = door.enter_with_code(session, seal, HERE, entered.token, f"{code[:3]} {code[3:]}", 30)
        assert full.token != entered.token
        assert accounts.who_is(session, full.token) is not None
        again = enter(session, HERE)
        with pytest.raises(Invalid):
            door.enter_with_code(session, seal, HERE, again.token, code, 30)
        assert door.enter_with_code(session, seal, HERE, again.token, codes[0].upper(), 30).token
        third = enter(session, HERE)
        with pytest.raises(Invalid):
            door.enter_with_code(session, seal, HERE, third.token, codes[0], 30)
        assert second_step.spare_codes_left(session, open_shop.maker.id) == second_step.SPARE - 1
        # A code as it was kept before codes were salted is good still, and once.
        old = accounts.digest(f"spare code {open_shop.maker.id} abcde23456")
        session.add(SpareCode(digest=old, person_id=open_shop.maker.id))
        assert door.enter_with_code(session, seal, HERE, third.token, "abcde-23456", 30).token
        assert session.get(SpareCode, old) is None
        third = enter(session, HERE)
    with open_shop.database.write() as session, at(moment + timedelta(hours=2)):
        with pytest.raises(Invalid, match="too long"):
            door.enter_with_code(session, seal, HERE, third.token, codes[1], 30)
        with pytest.raises(Invalid):
            second_step.switch_off(session, open_shop.maker, PasswordAgain(present="not it"))
        with pytest.raises(NotAllowed):
            second_step.take_away(session, open_shop.maker, open_shop.maker.id)
        second_step.take_away(session, open_shop.owner, open_shop.maker.id)
        assert session.exec(select(SpareCode)).all() == []
        assert not enter(session, HERE).awaits_code


@pytest.mark.parametrize(
    ("seconds", "code"),
    [(59, "94287082"), (1111111109, "07081804"), (1234567890, "89005924"), (20000000000, "65353130")],
)
def test_the_codes_are_those_of_the_standard(seconds: int, code: str) -> None:
    """RFC 6238, appendix B, SHA-1; its table has eight digits, of which ours are the last six."""
    secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"  # the ASCII text 12345678901234567890
    assert pyotp.TOTP(secret).at(seconds // second_step.STEP * second_step.STEP) == code[-6:]


def test_an_invitation_is_good_once_and_for_a_week(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        with pytest.raises(NotAllowed):
            invitations.invite(session, open_shop.maker, open_shop.maker.id)
        first = invitations.invite(session, open_shop.owner, open_shop.maker.id)
        token = invitations.invite(session, open_shop.owner, open_shop.maker.id)
        assert session.exec(select(Invitation.token_digest)).one() != token
        inside = enter(session, HERE).token
        for bad in (first, token + "x", ""):
            with pytest.raises(NotFound):
                invitations.invited(session, bad)
        with at(now() + invitations.GOOD_FOR + timedelta(seconds=1)), pytest.raises(NotFound):
            invitations.invited(session, token)
        with pytest.raises(Invalid):
            invitations.accept(session, token, invitations.ChosenPassword(password="short"))
        invitations.accept(session, token, invitations.ChosenPassword(password=NEW))
        assert accounts.who_is(session, inside) is None
        assert door.check(session, HERE, "tam", NEW)
        with pytest.raises(NotFound):
            invitations.accept(session, token, invitations.ChosenPassword(password=NEW))


def test_signing_out_there_and_everywhere_and_after_its_whole_time(open_shop: OpenShop) -> None:
    who = open_shop.maker
    with open_shop.database.write() as session:
        tokens = [enter(session, HERE).token for _ in range(3)]
        mine = door.sign_ins(session, who)
        assert {one.device for one in mine} == {"Firefox on Linux"}
        gone = next(one for one in mine if one.token_digest == accounts.digest(tokens[0]))
        door.sign_out_there(session, open_shop.office, gone.token_digest[:20])
        assert accounts.who_is(session, tokens[0])
        door.sign_out_there(session, who, gone.token_digest[:20])
        assert [accounts.who_is(session, token) is not None for token in tokens] == [False, True, True]
        for day in range(0, 400, 20):
            with at(now() + timedelta(days=day)):
                if accounts.who_is(session, tokens[1]):
                    accounts.keep_alive(session, tokens[1], 30)
        kept = session.exec(select(SignIn).where(col(SignIn.token_digest) == accounts.digest(tokens[1]))).one()
        assert kept.expires_at == kept.created_at + accounts.LONGEST
        door.sign_out_everywhere(session, who)
        assert [accounts.who_is(session, token) for token in tokens] == [None] * 3
