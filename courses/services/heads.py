from dataclasses import asdict, dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction

from academy.errors import Conflict, DomainError
from academy.models import Academy, Membership
from academy.services import audit
from courses.models import Head
from courses.selectors.heads import is_in_use


@dataclass(frozen=True, slots=True)
class HeadContent:
    """What a person enters about a head; ``layers`` of lashes, 1 to 3."""

    name: str
    layers: int
    strip_fitted_on: date
    note: str = ""


class HeadNameTaken(DomainError):
    def __init__(self, name: str) -> None:
        super().__init__(
            "head_name_taken", f"There is already a head named {name}. Choose another name.", field="name"
        )


class StripFromTheFuture(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "strip_from_the_future",
            "This date is in the future. Enter the day on which the strip was fitted.",
            field="strip_fitted_on",
        )


class StripOlderThanBefore(DomainError):
    def __init__(self, fitted_on: date) -> None:
        super().__init__(
            "strip_older_than_before",
            f"The strip now on this head was fitted on {fitted_on:%d %b %Y}. A new one cannot be older; "
            "correct the date under Change if that one is wrong.",
            field="strip_fitted_on",
        )


class HeadInUse(Conflict):
    def __init__(self, name: str) -> None:
        super().__init__(
            "head_in_use", f"{name} is in use by a practice set. Finish and inspect that set first."
        )


class HeadRetired(Conflict):
    def __init__(self, name: str) -> None:
        super().__init__("head_retired", f"{name} is retired and kept only for the records. Add a new head.")


@transaction.atomic
def add_head(*, academy: Academy, content: HeadContent, actor: Membership, now: datetime) -> Head:
    _check_day(academy, content.strip_fitted_on, now)
    head = _saved(Head(academy=academy, **asdict(content)))
    audit.record(actor, "add_head", head, now=now, after=_told(head))
    return head


@transaction.atomic
def change_head(*, head: Head, content: HeadContent, actor: Membership, now: datetime) -> Head:
    """Corrects what was entered; a new strip is ``fit_new_strip``."""
    head = _locked(head)
    _check_day(head.academy, content.strip_fitted_on, now)
    before = _told(head)
    for name, value in asdict(content).items():
        setattr(head, name, value)
    _saved(head)
    audit.record(actor, "change_head", head, now=now, before=before, after=_told(head))
    return head


@transaction.atomic
def fit_new_strip(*, head: Head, fitted_on: date, actor: Membership, now: datetime) -> Head:
    """From now on sets are counted on the new strip; sets done before keep the date of theirs."""
    head = _free(head)
    _check_day(head.academy, fitted_on, now)
    if fitted_on < head.strip_fitted_on:
        raise StripOlderThanBefore(head.strip_fitted_on)
    before = _told(head)
    head.strip_fitted_on = fitted_on
    head.save(update_fields=["strip_fitted_on"])
    audit.record(actor, "fit_new_strip", head, now=now, before=before, after=_told(head))
    return head


@transaction.atomic
def retire_head(*, head: Head, actor: Membership, now: datetime) -> Head:
    """Takes the head out of every list; the records keep it."""
    head = _free(head)
    head.retired_at = now
    head.save(update_fields=["retired_at"])
    audit.record(actor, "retire_head", head, now=now)
    return head


def _locked(head: Head) -> Head:
    locked = Head.objects.select_for_update(of=("self",)).select_related("academy").get(pk=head.pk)
    if locked.retired_at is not None:
        raise HeadRetired(locked.name)
    return locked


def _free(head: Head) -> Head:
    locked = _locked(head)
    if is_in_use(locked):
        raise HeadInUse(locked.name)
    return locked


def _saved(head: Head) -> Head:
    """The database keeps names apart, also when two people add one at the same moment."""
    try:
        with transaction.atomic():
            head.save()
    except IntegrityError as error:
        raise HeadNameTaken(head.name) from error
    return head


def _check_day(academy: Academy, day: date, now: datetime) -> None:
    """The academy's clock decides which day it is."""
    if day > academy.date_of(now):
        raise StripFromTheFuture


def _told(head: Head) -> dict[str, object]:
    return {
        "name": head.name,
        "layers": head.layers,
        "strip_fitted_on": head.strip_fitted_on.isoformat(),
        "note": head.note,
    }
