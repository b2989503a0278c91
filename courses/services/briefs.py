from collections import Counter
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from academy.errors import Conflict, DomainError
from academy.models import Academy, Membership
from academy.services import audit
from courses.mapping.lash_map import Fan, LashMap, cell_keys
from courses.mapping.map_json import write_map
from courses.models import BriefVersion, SetBrief, StageTarget
from courses.selectors import briefs as selectors
from courses.services.brief_content import BriefContent, BriefProblem, brief_problems

__all__ = ["BriefContent", "add_brief", "content_of", "copy_brief", "retire_brief", "revise_brief"]

VERSION_FIELDS = ("style", "difficulty", "coverage_percent", "lashes_per_eye", "silenced", "notes")


class BriefContentWrong(DomainError):
    """The first of ``problems``, which are all there is to correct."""

    def __init__(self, problems: tuple[BriefProblem, ...]) -> None:
        first = problems[0]
        super().__init__("brief_content_wrong", first.message, field=first.field, pointer=first.pointer)
        self.problems = problems


class BriefNameTaken(DomainError):
    def __init__(self, name: str) -> None:
        super().__init__(
            "brief_name_taken", f"There is already a brief named {name}. Choose another name.", field="name"
        )


class BriefUnchanged(DomainError):
    def __init__(self, number: int) -> None:
        super().__init__(
            "brief_unchanged", f"Nothing differs from version {number}, so there is no new version to make."
        )


class BriefMovedOn(Conflict):
    def __init__(self, number: int) -> None:
        super().__init__(
            "brief_moved_on",
            f"Somebody made version {number} meanwhile. Compare it with your changes, then save again "
            "to make yours the next version.",
        )


class BriefRetired(Conflict):
    def __init__(self, name: str) -> None:
        super().__init__(
            "brief_retired", f"{name} is retired and kept only for the records. Make a new brief instead."
        )


@transaction.atomic
def add_brief(*, academy: Academy, content: BriefContent, actor: Membership, now: datetime) -> BriefVersion:
    _check(content)
    brief = _saved(SetBrief(academy=academy, name=content.name))
    version = _record(brief, 1, content, actor, now)
    audit.record(actor, "add_brief", brief, now=now, after={"name": brief.name, "version": 1})
    return version


@transaction.atomic
def copy_brief(*, version: BriefVersion, name: str, actor: Membership, now: datetime) -> BriefVersion:
    """A brief of its own that starts from any version of another, retired or not."""
    academy, content = version.brief.academy, replace(content_of(version), name=name)
    _check(content)
    brief = _saved(SetBrief(academy=academy, name=name))
    copy = _record(brief, 1, content, actor, now)
    before = {"brief": version.brief_id, "version": version.number}
    audit.record(actor, "copy_brief", brief, now=now, before=before, after={"name": name, "version": 1})
    return copy


@transaction.atomic
def revise_brief(
    *, brief: SetBrief, content: BriefContent, actor: Membership, now: datetime, base: int | None = None
) -> BriefVersion:
    """A new version beside the old ones, which sets already opened keep. A new name alone makes no version.

    ``base`` is the version the person started from; a newer one raises BriefMovedOn.
    """
    brief = _in_use(brief)
    _check(content)
    newest = selectors.newest_version(brief)
    if base is not None and base != newest.number:
        raise BriefMovedOn(newest.number)
    old = content_of(newest)
    if content == old:
        raise BriefUnchanged(newest.number)
    _rename(brief, content.name)
    version = (
        newest if _same_but_name(content, old) else _record(brief, newest.number + 1, content, actor, now)
    )
    before = {"name": old.name, "version": newest.number}
    after = {"name": content.name, "version": version.number}
    audit.record(actor, "revise_brief", brief, now=now, before=before, after=after)
    return version


@transaction.atomic
def retire_brief(*, brief: SetBrief, actor: Membership, now: datetime) -> SetBrief:
    """Takes the brief out of every list; sets built to it keep it."""
    brief = _in_use(brief)
    brief.retired_at = now
    brief.save(update_fields=["retired_at"])
    audit.record(actor, "retire_brief", brief, now=now)
    return brief


def content_of(version: BriefVersion) -> BriefContent:
    """What a version says, to start the next one from; two queries unless prefetched."""
    return BriefContent(
        name=version.brief.name,
        lash_map=version.lash_map,
        targets=tuple((target.from_set, target.minutes) for target in version.targets.all()),
        **{name: getattr(version, name) for name in VERSION_FIELDS},
    )


def _check(content: BriefContent) -> None:
    if problems := brief_problems(content):
        raise BriefContentWrong(problems)


def _saved(brief: SetBrief) -> SetBrief:
    """The database keeps names apart, also when two people add one at the same moment."""
    try:
        with transaction.atomic():
            brief.save()
    except IntegrityError as error:
        raise BriefNameTaken(brief.name) from error
    return brief


def _in_use(brief: SetBrief) -> SetBrief:
    locked = SetBrief.objects.select_for_update(of=("self",)).select_related("academy").get(pk=brief.pk)
    if locked.retired_at is not None:
        raise BriefRetired(locked.name)
    return locked


def _rename(brief: SetBrief, name: str) -> None:
    if brief.name != name:
        brief.name = name
        _saved(brief)


def _same_but_name(content: BriefContent, other: BriefContent) -> bool:
    return replace(content, name="") == replace(other, name="")


def _record(
    brief: SetBrief, number: int, content: BriefContent, actor: Membership, now: datetime
) -> BriefVersion:
    version = BriefVersion.objects.create(
        brief=brief,
        number=number,
        created_by=actor,
        created_at=now,
        **{name: getattr(content, name) for name in VERSION_FIELDS},
        **_columns(content.lash_map),
    )
    StageTarget.objects.bulk_create(
        StageTarget(version=version, from_set=nth, minutes=minutes) for nth, minutes in content.targets
    )
    return version


def _columns(lash_map: LashMap) -> dict[str, Any]:
    """The map, and what lists and searches read instead of it."""
    fans = [lash_map.cells[key].fan for key in cell_keys(lash_map)]
    kinds = sorted({(fan.shape, fan.diameter_hundredths) for fan in fans})
    return {
        "map": write_map(lash_map),
        "zones": list(lash_map.zones),
        "layers": list(lash_map.layers),
        "fan_kinds": "".join(f" {shape}-{diameter}" for shape, diameter in kinds) + " ",
        **_main_fan(fans),
    }


def _main_fan(fans: list[Fan]) -> dict[str, Any]:
    """The fan of most cells; of equally many the one nearest the inner corner of the top layer."""
    (fan, _), *_ = Counter(fans).most_common()
    return {
        "fan_shape": fan.shape,
        "filaments": fan.filaments,
        "diameter_hundredths": fan.diameter_hundredths,
        "curl": fan.curl,
        "opening_min_deg": fan.opening_min_deg,
        "opening_max_deg": fan.opening_max_deg,
    }
