import json
from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import count
from typing import Any

from django.db import IntegrityError, transaction

from academy.errors import Conflict, DomainError, NotHere
from academy.models import Academy, Membership
from academy.services import audit
from courses.models import Programme, ProgrammeIsPublished, ProgrammeUnit, ProgrammeVersion
from courses.programme.content import (
    ProgrammeContent,
    Unit,
    read_certificate,
    read_gate,
    read_unit,
    write_rules,
)
from courses.programme.problems import ProgrammeProblem, draft_problems, publish_problems
from courses.selectors import programmes as selectors
from courses.services.catalogue import CATALOGUE


class ProgrammeNameTaken(DomainError):
    def __init__(self, name: str) -> None:
        super().__init__(
            "programme_name_taken",
            f"There is already a programme called “{name}”. Choose another name.",
            field="name",
        )


class ProgrammeDraftExists(Conflict):
    def __init__(self, draft: ProgrammeVersion) -> None:
        super().__init__(
            "programme_draft_exists",
            f"This programme already has a draft, version {draft.number}. Publish or discard it first.",
            draft_id=draft.pk,
        )


class ProgrammeRetired(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "programme_retired", "This programme is retired and kept only for the records. Add a new one."
        )


class ProgrammeCannotBe(DomainError):
    """``problems`` name the fields at fault."""

    def __init__(self, problems: Sequence[ProgrammeProblem]) -> None:
        super().__init__("programme_cannot_be", " ".join(problem.message for problem in problems))
        self.problems = tuple(problems)


def starter() -> tuple[str, ProgrammeContent]:
    """Name and content of the starter programme: units in the trade's words, hours left to the owner."""
    written: dict[str, Any] = json.loads((CATALOGUE / "programme.json").read_text(encoding="utf-8"))
    content = ProgrammeContent(
        units=tuple(read_unit(row) for row in written["units"]),
        gate=read_gate(written["gate"]),
        certificate=read_certificate(written["certificate"]),
    )
    return written["name"], content


@transaction.atomic
def install_starter_programme(*, academy: Academy, actor: Membership, now: datetime) -> ProgrammeVersion:
    """A draft that the owner completes and publishes; an academy that has it keeps what it made of it."""
    name, _ = starter()
    if installed := selectors.programme_named(academy, name):
        return selectors.draft_of(installed) or installed.versions.all()[0]
    return add_programme(academy=academy, name=name, actor=actor, now=now)


@transaction.atomic
def add_programme(*, academy: Academy, name: str, actor: Membership, now: datetime) -> ProgrammeVersion:
    """A programme with a first draft: the units and rules of the starter, without hours."""
    programme = Programme(academy=academy, name=name)
    _save_name(programme)
    _, content = starter()
    draft = _new_draft(programme, 1, content, actor, now)
    audit.record(actor, "add_programme", programme, now=now, after={"name": name})
    return draft


@transaction.atomic
def rename_programme(*, programme: Programme, name: str, actor: Membership, now: datetime) -> Programme:
    """In every version; what was issued before keeps the name it was issued with."""
    row = _locked(programme)
    before = row.name
    row.name = name
    _save_name(row)
    audit.record(actor, "rename_programme", row, now=now, before={"name": before}, after={"name": name})
    return row


@transaction.atomic
def retire_programme(*, programme: Programme, actor: Membership, now: datetime) -> Programme:
    """Nobody is enrolled on it any more; whoever is on it stays."""
    row = _locked(programme)
    row.retired_at = now
    row.save(update_fields=["retired_at"])
    audit.record(actor, "retire_programme", row, now=now)
    return row


@transaction.atomic
def copy_programme_version(
    *, version: ProgrammeVersion, actor: Membership, now: datetime
) -> ProgrammeVersion:
    """A draft with everything of ``version`` in it, to change and publish as the next version."""
    programme = _locked(version.programme)
    if draft := selectors.draft_of(programme):
        raise ProgrammeDraftExists(draft)
    number = programme.versions.order_by("-number")[0].number + 1
    draft = _new_draft(programme, number, version.content, actor, now)
    after = {"from": version.number, "number": number}
    audit.record(actor, "copy_programme_version", draft, now=now, after=after)
    return draft


@transaction.atomic
def change_programme_draft(
    *, version: ProgrammeVersion, content: ProgrammeContent, actor: Membership, now: datetime
) -> ProgrammeVersion:
    """The draft says ``content`` from now on; units without a code are new ones."""
    draft = _locked_draft(version)
    if problems := draft_problems(content, today=actor.academy.date_of(now)):
        raise ProgrammeCannotBe(problems)
    before = _told(draft)
    _write(draft, content)
    draft.save()
    ProgrammeUnit.objects.filter(version=draft).delete()
    _add_units(draft, content.units)
    audit.record(actor, "change_programme_draft", draft, now=now, before=before, after=_told(draft))
    return draft


@transaction.atomic
def publish_programme_version(
    *, version: ProgrammeVersion, actor: Membership, now: datetime
) -> ProgrammeVersion:
    """From now on students may be enrolled on it, and nothing in it changes."""
    draft = _locked_draft(version)
    if problems := publish_problems(draft.content, today=actor.academy.date_of(now)):
        raise ProgrammeCannotBe(problems)
    draft.published_at, draft.published_by = now, actor
    draft.save(update_fields=["published_at", "published_by"])
    audit.record(actor, "publish_programme_version", draft, now=now, after=_told(draft))
    return draft


@transaction.atomic
def discard_programme_draft(*, version: ProgrammeVersion, actor: Membership, now: datetime) -> None:
    """A programme that was never published goes with its only draft."""
    draft = _locked_draft(version)
    audit.record(actor, "discard_programme_draft", draft, now=now, before=_told(draft))
    draft.delete()
    if not draft.programme.versions.exists():
        draft.programme.delete()


def _new_draft(
    programme: Programme, number: int, content: ProgrammeContent, actor: Membership, now: datetime
) -> ProgrammeVersion:
    draft = ProgrammeVersion(programme=programme, number=number, made_by=actor, made_at=now)
    _write(draft, content)
    draft.save()
    _add_units(draft, content.units)
    return draft


def _write(draft: ProgrammeVersion, content: ProgrammeContent) -> None:
    for name in ("theory_hours", "practical_hours", "hours_source", "hours_source_on"):
        setattr(draft, name, getattr(content, name))
    draft.gate = write_rules(content.gate)
    draft.certificate = write_rules(content.certificate)


def _add_units(draft: ProgrammeVersion, units: Sequence[Unit]) -> None:
    fresh = _fresh_codes(draft, units)
    ProgrammeUnit.objects.bulk_create(
        ProgrammeUnit(
            version=draft,
            position=place,
            code=unit.code or next(fresh),
            title=unit.title,
            kind=unit.kind,
            before_live=unit.before_live,
        )
        for place, unit in enumerate(units, 1)
    )


def _fresh_codes(draft: ProgrammeVersion, units: Sequence[Unit]) -> Iterator[str]:
    """Never one that an earlier version used: sign-offs of that unit would count for the new one."""
    used = ProgrammeUnit.objects.filter(version__programme=draft.programme).values_list("code", flat=True)
    taken = {*used, *(unit.code for unit in units)}
    return (code for number in count(1) if (code := f"unit-{number}") not in taken)


def _locked(programme: Programme) -> Programme:
    row = Programme.objects.select_for_update(of=("self",)).select_related("academy").get(pk=programme.pk)
    if row.retired_at is not None:
        raise ProgrammeRetired
    return row


def _locked_draft(version: ProgrammeVersion) -> ProgrammeVersion:
    """The version as it stands now, held to the end of this transaction; a published one is refused."""
    held = ProgrammeVersion.objects.select_for_update(of=("self",)).select_related("programme")
    found = held.filter(pk=version.pk).first()
    if found is None:
        raise NotHere("draft")
    if found.is_published:
        raise ProgrammeIsPublished
    if found.programme.retired_at is not None:
        raise ProgrammeRetired
    return found


def _save_name(programme: Programme) -> None:
    """The database keeps names apart, also when two people add one at the same moment."""
    try:
        with transaction.atomic():
            programme.save()
    except IntegrityError as error:
        raise ProgrammeNameTaken(programme.name) from error


def _told(version: ProgrammeVersion) -> dict[str, object]:
    read_on = version.hours_source_on
    return {
        "programme": version.programme_id,
        "number": version.number,
        "theory_hours": None if version.theory_hours is None else str(version.theory_hours),
        "practical_hours": None if version.practical_hours is None else str(version.practical_hours),
        "hours_source": version.hours_source,
        "hours_source_on": read_on.isoformat() if read_on else None,
        "gate": version.gate,
        "certificate": version.certificate,
        "units": list(version.units.values("code", "title", "kind", "before_live")),
    }
