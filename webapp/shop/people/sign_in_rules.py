"""The shop's rules of signing in: who needs a second step, and how long a sign-in lasts."""

from pydantic import BaseModel
from sqlmodel import Session, col, delete, update

from webapp.models import Person, SecondStepFor, Shop, SignIn, SignInsLast, now
from webapp.shop.base.errors import Invalid, Stale
from webapp.shop.base.finding import find
from webapp.shop.people import diary
from webapp.shop.people.accounts import A_DAY, A_DAY_UNUSED, Who

FOR_WHOM = [
    (SecondStepFor.NOBODY.value, "Nobody", "each decides for themselves"),
    (SecondStepFor.OWNERS.value, "Owners", "who see and change everything"),
    (SecondStepFor.EVERYONE.value, "Everyone", "who signs in here"),
]
HOW_LONG = [
    (SignInsLast.MONTH.value, "30 days", "for tablets that stay in the shop"),
    (SignInsLast.DAY.value, "A working day", "12 hours, and no longer than 30 minutes unused"),
]


class RulesAsked(BaseModel):
    """The rules, and the version of the settings that was on the screen."""

    second_step_for: SecondStepFor
    sign_ins_last: SignInsLast
    version: int


def change(session: Session, who: Who, asked: RulesAsked) -> None:
    """Change the rules; they hold for those who are signed in already too. Raises NotAllowed, Stale, Invalid."""
    who.must()
    shop = find(session, Shop, 1, "shop", lock=True)
    if asked.version != shop.version:
        raise Stale({"version": str(shop.version)})
    wants_more = asked.second_step_for is not SecondStepFor.NOBODY
    if wants_more and find(session, Person, who.id, "person").code_secret is None:
        raise Invalid(
            {"second_step_for": "Set up your own second step first, so that you know what you ask of others."}
        )
    if asked.second_step_for is not shop.second_step_for:
        diary.write(session, who, "shop", 1, f"A second step is wanted of: {asked.second_step_for}")
    if asked.sign_ins_last is not shop.sign_ins_last:
        lasts = next(words for value, words, _ in HOW_LONG if value == asked.sign_ins_last)
        diary.write(session, who, "shop", 1, f"Sign-ins last: {lasts}")
        if asked.sign_ins_last is SignInsLast.DAY:
            _cut_short(session)
    shop.second_step_for, shop.sign_ins_last = asked.second_step_for, asked.sign_ins_last
    shop.version += 1
    session.add(shop)
    session.flush()


def _cut_short(session: Session) -> None:
    """Sign-ins that are open have no longer than a new one would; those that are older than that end."""
    moment = now()
    session.exec(delete(SignIn).where(col(SignIn.created_at) < moment - A_DAY))
    over = moment + A_DAY_UNUSED
    session.exec(update(SignIn).where(col(SignIn.expires_at) > over).values(expires_at=over))
