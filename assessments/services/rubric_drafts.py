from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from academy.errors import DomainError, NotHere
from academy.models import Membership
from academy.services import audit
from assessments.models import Criterion, HygieneLine, LevelDescriptor, RubricIsPublished, RubricVersion
from assessments.services.rubric_problems import (
    LEVELS,
    Sampling,
    fault_codes,
    rule_problems,
    sampling_of,
    sampling_problems,
)


@dataclass(frozen=True, slots=True)
class CriterionContent:
    """What an owner may change of one criterion of a draft; ``descriptors`` from level 0 to 4."""

    name: str
    weight: Decimal
    is_gate: bool
    gate_min: int
    blocks_time: bool
    rule: Mapping[str, object]
    descriptors: Sequence[str]


@dataclass(frozen=True, slots=True)
class LineContent:
    """One hygiene line; an empty ``code`` is a new line, an empty ``text`` removes it."""

    code: str
    text: str
    is_critical: bool


class RuleIsWrong(DomainError):
    def __init__(self, message: str, field: str) -> None:
        super().__init__("rule_is_wrong", message, field=field)


class SamplingIsWrong(DomainError):
    def __init__(self, message: str, field: str) -> None:
        super().__init__("sampling_is_wrong", message, field=field)


class DescriptorsMissing(DomainError):
    def __init__(self) -> None:
        super().__init__("descriptors_missing", "Describe every level from 0 to 4 in a few words.")


@transaction.atomic
def change_criterion(
    *, criterion: Criterion, content: CriterionContent, actor: Membership, now: datetime
) -> Criterion:
    """Change one criterion of a draft; kind, code, skill and critical lines stay."""
    draft = locked_draft(criterion.version)
    texts = [text.strip() for text in content.descriptors]
    if len(texts) != LEVELS or not all(texts):
        raise DescriptorsMissing
    for problem in rule_problems(criterion.kind, content.rule, fault_codes()):
        raise RuleIsWrong(problem.message, problem.field)
    before = _told(criterion)
    for name in ("name", "weight", "is_gate", "gate_min", "blocks_time"):
        setattr(criterion, name, getattr(content, name))
    criterion.rule = dict(content.rule)
    criterion.save()
    _describe(criterion, texts)
    name_critical_lines(draft)
    audit.record(actor, "change_criterion", criterion, now=now, before=before, after=_told(criterion))
    return criterion


@transaction.atomic
def change_sampling(
    *, version: RubricVersion, sampling: Sampling, actor: Membership, now: datetime
) -> RubricVersion:
    draft = locked_draft(version)
    for problem in sampling_problems(sampling):
        raise SamplingIsWrong(problem.message, problem.field)
    before = asdict(sampling_of(draft))
    for name, count in asdict(sampling).items():
        setattr(draft, name, count)
    draft.save()
    audit.record(actor, "change_sampling", draft, now=now, before=before, after=asdict(sampling))
    return draft


@transaction.atomic
def change_hygiene_lines(
    *, version: RubricVersion, lines: Sequence[LineContent], actor: Membership, now: datetime
) -> RubricVersion:
    """Replace the lines of a draft, in this order."""
    draft = locked_draft(version)
    before = list(HygieneLine.objects.filter(version=draft).values("code", "text", "is_critical"))
    rows = [line for line in lines if line.text.strip()]
    codes = _codes(rows)
    HygieneLine.objects.filter(version=draft).delete()
    HygieneLine.objects.bulk_create(
        HygieneLine(
            version=draft, order=place, code=code, text=line.text.strip(), is_critical=line.is_critical
        )
        for place, (code, line) in enumerate(zip(codes, rows, strict=True), 1)
    )
    after = list(HygieneLine.objects.filter(version=draft).values("code", "text", "is_critical"))
    name_critical_lines(draft)
    audit.record(
        actor, "change_hygiene_lines", draft, now=now, before={"lines": before}, after={"lines": after}
    )
    return draft


def name_critical_lines(draft: RubricVersion) -> None:
    """Criteria that read the lines carry the codes of the critical ones; the lines say which these are."""
    critical = [line.code for line in HygieneLine.objects.filter(version=draft, is_critical=True)]
    for criterion in Criterion.objects.filter(version=draft, kind="lines"):
        criterion.rule = {**criterion.rule, "critical": critical}
        criterion.save(update_fields=["rule"])


def locked_draft(version: RubricVersion) -> RubricVersion:
    """The version as it stands now, held to the end of this transaction; a published one is refused."""
    held = RubricVersion.objects.select_for_update(of=("self",)).select_related("rubric")
    found = held.filter(pk=version.pk).first()
    if found is None:
        raise NotHere("draft")
    if found.is_published:
        raise RubricIsPublished
    return found


def _describe(criterion: Criterion, texts: Sequence[str]) -> None:
    LevelDescriptor.objects.filter(criterion=criterion).delete()
    LevelDescriptor.objects.bulk_create(
        LevelDescriptor(criterion=criterion, level=level, text=text) for level, text in enumerate(texts)
    )


def _codes(lines: Sequence[LineContent]) -> list[str]:
    """Codes of old lines stay, because marks name them; new lines take the first free number."""
    taken = {line.code for line in lines if line.code}
    free = (f"line-{number}" for number in range(1, len(lines) + len(taken) + 1))
    fresh = (code for code in free if code not in taken)
    return [line.code or next(fresh) for line in lines]


def _told(criterion: Criterion) -> dict[str, object]:
    return {
        "name": criterion.name,
        "weight": f"{criterion.weight:.2f}",
        "is_gate": criterion.is_gate,
        "gate_min": criterion.gate_min,
        "blocks_time": criterion.blocks_time,
        "rule": criterion.rule,
        "descriptors": list(
            LevelDescriptor.objects.filter(criterion=criterion).values_list("text", flat=True)
        ),
    }
