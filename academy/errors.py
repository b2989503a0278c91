"""What can go wrong in the house; knows nothing of HTTP."""


class DomainError(Exception):
    """A rule of the house said no. ``message`` says what is wrong and what to do about it.

    ``details`` may name a ``field`` (the form field at fault) and anything an answer should carry.
    """

    def __init__(self, code: str, message: str, **details: object) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.details = details


class NotHere(DomainError):
    """The thing asked for does not exist in this academy, or is not this person's to see."""

    def __init__(self, what: str) -> None:
        super().__init__("not_here", f"There is no such {what} here. It may have been removed.")


class Conflict(DomainError):
    """The row has moved on since this person last saw it."""


class Denied(DomainError):
    """This person may see the thing but not do this to it."""
