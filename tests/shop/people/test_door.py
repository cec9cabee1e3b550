"""The door: guesses are slowed without locking the owner out; the second step; invitations."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pyotp
import pytest
from sqlmodel import col, select

from tests.doors import HERE, enter, guess, with_second_step
from tests.shops import PASSWORD, OpenShop
from webapp.models import FailedTry, Invitation, KnownBrowser, Person, SignIn, SpareCode, at, now
from webapp.security.sealing import FILE, Seal
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound
from webapp.shop.people import accounts, diary, door, guesses, invitations, second_step
from webapp.shop.people.guesses import Visitor
from webapp.shop.people.invitations import ChosenPassword
from webapp.shop.people.second_step import CodeAsked

THERE = Visitor("198.51.100.9")
NEW = "six long cedar boards"


def test_guessing_a_name_is_slowed_but_not_for_a_browser_that_was_here_before(open_shop: OpenShop) -> None:
    database = open_shop.database
    known = Visitor("192.0.2.7", known=enter(open_shop).known)
    assert known.known
    guess(database, THERE, " TAM ", guesses.TRIES_BY_NAME)
    for visitor in (THERE, HERE):
        with pytest.raises(Invalid, match="Too many wrong tries"):
            enter(open_shop, visitor)
    assert enter(open_shop, known).known == ""
    # Someone else's known browser helps nobody.
    with pytest.raises(Invalid):
        enter(open_shop, Visitor("192.0.2.7", known=enter(open_shop, name="bo").known))
    # The person can see it, once, without the guesses' number filling the diary.
    with database.read() as session:
        lines = [e.what for e in diary.read(session, open_shop.owner, "person", open_shop.maker.id)]
    assert sum("wrong password" in line for line in lines) == 1
    assert sum("10 tries to sign in failed" in line for line in lines) == 1
    with at(now() + guesses.WINDOW + timedelta(seconds=1)):
        assert enter(open_shop, THERE).token
    # A known browser's own guesses are counted too.
    guess(database, known, "tam", guesses.TRIES_BY_KNOWN)
    with pytest.raises(Invalid):
        enter(open_shop, known)


def test_guessing_many_names_from_one_place_is_slowed_and_tries_are_kept_for_a_day(open_shop: OpenShop) -> None:
    database = open_shop.database
    for n in range(guesses.TRIES_BY_ADDRESS):
        guess(database, THERE, f"nobody {n}", 1)
    with pytest.raises(Invalid):
        enter(open_shop, THERE)
    assert enter(open_shop).token
    with database.read() as session:
        kept = session.exec(select(FailedTry)).all()
    assert len(kept) == guesses.TRIES_BY_ADDRESS, "what was right is not counted"
    assert all("198.51" not in one.address_digest and "nobody" not in one.name_digest for one in kept)
    with at(now() + guesses.KEPT + timedelta(minutes=1)):
        guess(database, THERE, "nobody", 1)
    with database.read() as session:
        assert len(session.exec(select(FailedTry)).all()) == 1


def test_a_clock_that_was_set_back_shuts_nobody_out(open_shop: OpenShop) -> None:
    with at(now() + timedelta(hours=5)):
        guess(open_shop.database, THERE, "tam", guesses.TRIES_BY_NAME)
        with pytest.raises(Invalid):
            enter(open_shop, THERE)
    assert enter(open_shop, THERE).token
    # Set back by less than the time for which tries count, they count as before.
    with at(now() + guesses.AHEAD / 2):
        guess(open_shop.database, THERE, "tam", guesses.TRIES_BY_NAME)
    with pytest.raises(Invalid):
        enter(open_shop, THERE)


def test_the_second_step(open_shop: OpenShop, tmp_path: Path) -> None:
    database, maker, seal = open_shop.database, open_shop.maker, Seal(tmp_path)
    moment = datetime(2026, 5, 4, 9, 0, 5, tzinfo=UTC)
    with at(moment):
        secret = second_step.new_secret()
        proof, spare = door.prove(database, HERE, maker, PASSWORD), second_step.new_spare_codes()
        wrong = CodeAsked(present=PASSWORD, secret=secret, code="000000")
        with database.write() as session, pytest.raises(Invalid):
            second_step.switch_on(session, maker, seal, wrong, proof, spare)
        phone = with_second_step(database, maker, seal)
        codes = phone.spare
        with database.read() as session:
            me = session.get_one(Person, maker.id)
        assert phone.codes.secret not in (me.code_secret or "")
        assert seal.open(me.code_secret or "") == phone.codes.secret
        assert Seal(tmp_path / "elsewhere").open(me.code_secret or "") is None
        assert (tmp_path / FILE).stat().st_mode & 0o077 == 0
        assert len(codes) == second_step.SPARE

        entered = enter(open_shop)
        assert entered.awaits_code
        with database.read() as session:
            assert accounts.who_is(session, entered.token) is None
        with pytest.raises(Invalid, match="code of this moment"):  # the code that switched it on is used up
            door.enter_with_code(database, seal, HERE, entered.token, phone.codes.at(moment), 30)
        with pytest.raises(Invalid, match="lacks the key"):  # the shop was brought here without it
            elsewhere = Seal(tmp_path / "elsewhere")
            door.enter_with_code(database, elsewhere, HERE, entered.token, phone.codes.at(moment), 30)
    with at(moment + timedelta(seconds=40)):
        code = phone.codes.at(moment + timedelta(seconds=40))
        full = door.enter_with_code(database, seal, HERE, entered.token, f"{code[:3]} {code[3:]}", 30)
        assert full.token != entered.token
        with database.read() as session:
            assert accounts.who_is(session, full.token) is not None
        again = enter(open_shop)
        with pytest.raises(Invalid):
            door.enter_with_code(database, seal, HERE, again.token, code, 30)
        assert door.enter_with_code(database, seal, HERE, again.token, codes[0].upper(), 30).token
        third = enter(open_shop)
        with pytest.raises(Invalid):
            door.enter_with_code(database, seal, HERE, third.token, codes[0], 30)
        # A code as it was kept before codes were salted is good still, and once.
        old = accounts.digest(f"spare code {maker.id} abcde23456")
        with database.write() as session:
            assert second_step.spare_codes_left(session, maker.id) == second_step.SPARE - 1
            session.add(SpareCode(digest=old, person_id=maker.id))
            session.commit()
        assert door.enter_with_code(database, seal, HERE, third.token, "abcde-23456", 30).token
        with database.read() as session:
            assert session.get(SpareCode, old) is None
        third = enter(open_shop)
    with at(moment + timedelta(hours=2)):
        with pytest.raises(Invalid, match="too long"):
            door.enter_with_code(database, seal, HERE, third.token, codes[1], 30)
        with pytest.raises(Invalid):
            door.prove(database, HERE, maker, "not it")
        with database.write() as session:
            with pytest.raises(NotAllowed):
                second_step.take_away(session, maker, maker.id)
            second_step.take_away(session, open_shop.owner, maker.id)
            assert session.exec(select(SpareCode)).all() == []
        assert not enter(open_shop).awaits_code


def test_a_password_that_was_changed_meanwhile_proves_nothing(open_shop: OpenShop) -> None:
    """The password was typed, then changed elsewhere, and only then did what it was typed for reach the database."""
    database, maker = open_shop.database, open_shop.maker
    proof = door.prove(database, HERE, maker, PASSWORD)
    with database.write() as session:
        accounts.set_password(session, "tam", NEW)
    with database.write() as session:
        with pytest.raises(Invalid, match="just now"):
            second_step.switch_off(session, maker, proof)
        with pytest.raises(Invalid, match="just now"):
            second_step.renew_spare_codes(session, maker, proof, second_step.SpareCodes([], []))


@pytest.mark.parametrize(
    ("seconds", "code"),
    [(59, "94287082"), (1111111109, "07081804"), (1234567890, "89005924"), (20000000000, "65353130")],
)
def test_the_codes_are_those_of_the_standard(seconds: int, code: str) -> None:
    """RFC 6238, appendix B, SHA-1; its table has eight digits, of which ours are the last six."""
    secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"  # the ASCII text 12345678901234567890
    assert pyotp.TOTP(secret).at(seconds // second_step.STEP * second_step.STEP) == code[-6:]


def test_an_invitation_is_good_once_and_for_a_week(open_shop: OpenShop) -> None:
    database, maker = open_shop.database, open_shop.maker
    inside = enter(open_shop).token
    with database.write() as session:
        with pytest.raises(NotAllowed):
            invitations.invite(session, maker, maker.id)
        first = invitations.invite(session, open_shop.owner, maker.id)
        token = invitations.invite(session, open_shop.owner, maker.id)
        session.commit()
        assert session.exec(select(Invitation.token_digest)).one() != token
        for bad in (first, token + "x", ""):
            with pytest.raises(NotFound):
                invitations.invited(session, bad)
        with at(now() + invitations.GOOD_FOR + timedelta(seconds=1)), pytest.raises(NotFound):
            invitations.invited(session, token)
        with pytest.raises(Invalid):
            invitations.choose(session, token, ChosenPassword(password="short"))
        chosen = invitations.choose(session, token, ChosenPassword(password=NEW))
        invitations.accept(session, token, chosen)
        assert accounts.who_is(session, inside) is None
        with pytest.raises(NotFound):
            invitations.accept(session, token, chosen)
    assert enter(open_shop, password=NEW).token


def test_signing_out_there_and_everywhere_and_after_its_whole_time(open_shop: OpenShop) -> None:
    who = open_shop.maker
    tokens = [enter(open_shop).token for _ in range(3)]
    with open_shop.database.write() as session:
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


def test_signing_out_everywhere_forgets_the_browsers_of_this_person_alone(open_shop: OpenShop) -> None:
    mine, others = enter(open_shop), enter(open_shop, name="bo")
    with open_shop.database.write() as session:
        door.sign_out_everywhere(session, open_shop.maker)
        assert accounts.who_is(session, mine.token) is None
        assert accounts.who_is(session, others.token)
        kept = session.exec(select(KnownBrowser.token_digest)).all()
        assert kept == [accounts.digest(others.known)]
        newest = diary.read(session, open_shop.owner, "person", open_shop.maker.id)[0]
        assert (newest.what, newest.by) == ("Signed out everywhere", open_shop.maker.name)


def test_a_code_that_comes_too_late_is_told_above_the_form(open_shop: OpenShop, tmp_path: Path) -> None:
    with pytest.raises(Invalid) as told:
        door.enter_with_code(open_shop.database, Seal(tmp_path), HERE, "no sign-in waits", "123456", 30)
    assert told.value.errors == {"": door.TOO_LONG}


@pytest.mark.parametrize("minutes", [-90, -2, 2, 90])
def test_a_clock_that_steps_lets_no_code_in_twice_and_keeps_nobody_out(
    open_shop: OpenShop, tmp_path: Path, minutes: int
) -> None:
    """The telephone goes on with the right time; the computer's clock was wrong until now, or is from now on."""
    seal = Seal(tmp_path)
    phone = with_second_step(open_shop.database, open_shop.maker, seal)
    real = now() + timedelta(minutes=5)

    def code_taken(code: str) -> bool:
        try:
            door.enter_with_code(open_shop.database, seal, HERE, enter(open_shop).token, code, 30)
        except Invalid:
            return False
        return True

    with at(real):
        code = phone.codes.at(real)
        assert code_taken(code)
    with at(real + timedelta(minutes=minutes)):
        assert not code_taken(code)
        assert code_taken(phone.spare[0])
    with at(real + timedelta(minutes=1)):
        assert not code_taken(code)
        assert code_taken(phone.codes.at(real + timedelta(minutes=1)))
