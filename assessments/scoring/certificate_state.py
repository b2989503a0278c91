"""How a certificate stands at an instant: its dates and what happened to it, in one word."""

from calendar import monthrange
from collections.abc import Iterable
from datetime import datetime
from enum import StrEnum

SUSPENDED_BY, RESTORED_BY, REVOKED_BY, REPLACED_BY = "suspended", "restored", "revoked", "replaced"


class State(StrEnum):
    """The word that is shown; what the academy decided stands before what the dates say."""

    VALID = "valid"
    NOT_YET = "not yet valid"
    EXPIRED = "expired"
    SUSPENDED = "suspended"
    REPLACED = "replaced"
    REVOKED = "revoked"


def certificate_state(
    *, valid_from: datetime, valid_until: datetime | None, events: Iterable[str], at: datetime
) -> State:
    """``events``: kinds in the order they happened. From ``valid_from`` on, up to but not including
    ``valid_until``, as RFC 7519 sections 4.1.4 and 4.1.5 read ``exp`` and ``nbf``.
    """
    happened = list(events)
    if REVOKED_BY in happened:
        return State.REVOKED
    if REPLACED_BY in happened:
        return State.REPLACED
    if is_suspended(happened):
        return State.SUSPENDED
    if at < valid_from:
        return State.NOT_YET
    return State.EXPIRED if valid_until is not None and at >= valid_until else State.VALID


def is_suspended(events: Iterable[str]) -> bool:
    """The last suspension has not been lifted."""
    turns = [kind for kind in events if kind in {SUSPENDED_BY, RESTORED_BY}]
    return bool(turns) and turns[-1] == SUSPENDED_BY


def months_later(at: datetime, months: int) -> datetime:
    """The same day and time so many months on; the last day of a month that is too short."""
    years, month = divmod(at.month - 1 + months, 12)
    year, month = at.year + years, month + 1
    return at.replace(year=year, month=month, day=min(at.day, monthrange(year, month)[1]))
