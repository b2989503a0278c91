import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, fields
from datetime import datetime
from typing import Any, TypeVar

from django.db import models, transaction

from academy.errors import Conflict, DomainError, NotHere
from academy.models import Academy, Membership
from academy.services import audit
from assessments.models import BriefRubric, Criterion, HygieneLine, LevelDescriptor, Rubric, RubricVersion
from assessments.selectors import rubrics as selectors
from assessments.services.rubric_drafts import locked_draft, name_critical_lines
from assessments.services.rubric_problems import Sampling, publish_problems, sampling_of
from courses.models import SetBrief, Skill
from courses.services.catalogue import CATALOGUE

Row = TypeVar("Row", bound=models.Model)


class DraftExists(Conflict):
    def __init__(self, draft: RubricVersion) -> None:
        super().__init__(
            "draft_exists",
            f"This rubric already has a draft, version {draft.number}. Publish or discard it first.",
            draft_id=draft.pk,
        )


class RubricNotReady(DomainError):
    def __init__(self, problems: Sequence[str]) -> None:
        super().__init__("rubric_not_ready", " ".join(problems), problems=tuple(problems))


@transaction.atomic
def install_starter_rubric(*, academy: Academy, actor: Membership, now: datetime) -> RubricVersion:
    """Publish the starter rubric of the fixtures; an academy that has it keeps what it made of it.

    Needs the catalogue. Its thresholds are proposals: the academy copies the version and changes them.
    """
    starter: dict[str, Any] = json.loads((CATALOGUE / "rubric.json").read_text(encoding="utf-8"))
    if installed := selectors.rubric(academy, starter["name"]):
        return selectors.published_versions(academy).filter(rubric=installed)[0]
    rubric = Rubric.objects.create(academy=academy, name=starter["name"])
    sampling = {field.name: starter[field.name] for field in fields(Sampling)}
    draft = RubricVersion.objects.create(rubric=rubric, number=1, **sampling)
    HygieneLine.objects.bulk_create(
        HygieneLine(version=draft, order=place, **line)
        for place, line in enumerate(starter["hygiene_lines"], 1)
    )
    _add_criteria(draft, starter["criteria"])
    name_critical_lines(draft)
    return publish_rubric_version(version=draft, actor=actor, now=now)


@transaction.atomic
def copy_rubric_version(*, version: RubricVersion, actor: Membership, now: datetime) -> RubricVersion:
    """A draft with everything of ``version`` in it, to change and publish as the next version."""
    Rubric.objects.select_for_update().get(pk=version.rubric_id)
    if draft := selectors.draft_of(version.rubric):
        raise DraftExists(draft)
    source = selectors.version(version.rubric.academy, version.pk)
    newest = RubricVersion.objects.filter(rubric=version.rubric).order_by("-number")[0]
    draft = RubricVersion.objects.create(
        rubric=version.rubric, number=newest.number + 1, **asdict(sampling_of(source))
    )
    _copy_rows(source, draft)
    after = {"from": source.number, "number": draft.number}
    audit.record(actor, "copy_rubric_version", draft, now=now, after=after)
    return draft


@transaction.atomic
def publish_rubric_version(*, version: RubricVersion, actor: Membership, now: datetime) -> RubricVersion:
    """From now on sets may be marked with it, and nothing in it changes."""
    draft = locked_draft(version)
    if problems := publish_problems(draft):
        raise RubricNotReady(problems)
    draft.published_at, draft.published_by = now, actor
    draft.save(update_fields=["published_at", "published_by"])
    audit.record(actor, "publish_rubric_version", draft, now=now, after=_told(draft))
    return draft


@transaction.atomic
def discard_draft(*, version: RubricVersion, actor: Membership, now: datetime) -> None:
    draft = locked_draft(version)
    audit.record(actor, "discard_draft", draft, now=now, before=_told(draft))
    draft.delete()


@transaction.atomic
def choose_rubric(
    *, brief: SetBrief, version: RubricVersion | None, actor: Membership, now: datetime
) -> None:
    """Mark new sets on this brief with ``version``; None goes back to the academy's newest."""
    brief = SetBrief.objects.select_for_update().get(pk=brief.pk)
    before = selectors.chosen_version_id(brief)
    if version is None:
        BriefRubric.objects.filter(brief=brief).delete()
    elif version.rubric.academy_id != brief.academy_id or not version.is_published:
        raise NotHere("published rubric version")
    else:
        BriefRubric.objects.update_or_create(brief=brief, defaults={"version": version})
    after = version.pk if version else None
    audit.record(actor, "choose_rubric", brief, now=now, before={"version": before}, after={"version": after})


def _add_criteria(draft: RubricVersion, rows: Iterable[dict[str, Any]]) -> None:
    skills = Skill.objects.in_bulk(field_name="code")
    criteria, descriptors = [], []
    for place, row in enumerate(rows, 1):
        plain = {name: value for name, value in row.items() if name not in {"skill", "levels"}}
        criterion = Criterion(version=draft, order=place, skill=skills[row["skill"]], **plain)
        criteria.append(criterion)
        descriptors += [
            LevelDescriptor(criterion=criterion, level=level, text=text)
            for level, text in enumerate(row["levels"])
        ]
    _save_tree(criteria, descriptors)


def _copy_rows(source: RubricVersion, draft: RubricVersion) -> None:
    HygieneLine.objects.bulk_create(_copied(line, version=draft) for line in source.hygiene_lines.all())
    criteria, descriptors = [], []
    for old in source.criteria.all():
        new = _copied(old, version=draft)
        criteria.append(new)
        descriptors += [_copied(each, criterion=new) for each in old.descriptors.all()]
    _save_tree(criteria, descriptors)


def _save_tree(criteria: list[Criterion], descriptors: list[LevelDescriptor]) -> None:
    Criterion.objects.bulk_create(criteria)
    for descriptor in descriptors:
        descriptor.criterion_id = descriptor.criterion.pk
    LevelDescriptor.objects.bulk_create(descriptors)


def _copied(row: Row, **changes: models.Model) -> Row:
    """A new row with the same content under another parent."""
    content = {
        field.attname: getattr(row, field.attname)
        for field in row._meta.concrete_fields
        if not field.primary_key
    }
    for name in changes:
        del content[f"{name}_id"]
    return type(row)(**content, **changes)


def _told(version: RubricVersion) -> dict[str, object]:
    return {"rubric": version.rubric_id, "number": version.number}
