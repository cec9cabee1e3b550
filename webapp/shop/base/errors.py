"""What can go wrong in the shop's own words. `webapp/pages/frame/failures.py` turns each into one kind of answer."""


class ShopError(Exception):
    """Something the shop will not do, said so that the person can act on it."""


class NotFound(ShopError):
    """There is no such thing."""


class Refused(ShopError):
    """It can't be done as things stand; the text says why and what would help."""


class Doubtful(Refused):
    """It can be done, but hardly was meant: a question to answer with yes, which then sends `sure` as it stands here.

    `sure` names what was asked about, so that a yes to one thing is none to another.
    """

    def __init__(self, question: str, sure: str) -> None:
        super().__init__(question)
        self.question = question
        self.sure = sure[:SURE]


SURE = 80  # characters of `sure`


class NotAllowed(ShopError):
    """This person's role does not cover it."""


class FieldsNotAllowed(NotAllowed):
    """This person's role covers the rest, but not these fields: a message for each, by its name."""

    def __init__(self, errors: dict[str, str]) -> None:
        super().__init__(" ".join(dict.fromkeys(errors.values())))
        self.errors = errors


class Invalid(ShopError):
    """What was typed can't be used: a message for each field, by its name ('' for the form as a whole)."""

    def __init__(self, errors: dict[str, str]) -> None:
        super().__init__("; ".join(errors.values()))
        self.errors = errors


class Stale(ShopError):
    """Someone else changed it meanwhile. `theirs` maps each changed field to what it says now."""

    def __init__(self, theirs: dict[str, str]) -> None:
        super().__init__("Someone else changed this while you were typing.")
        self.theirs = theirs
