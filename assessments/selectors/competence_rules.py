from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime

from academy.errors import NotHere
from academy.models import Academy
from academy.read_once import read_once
from assessments.models import CompetenceRule, Criterion, MasteryRule
from assessments.scoring.mastery import MasteryConditions
from assessments.scoring.programme_rules import PRESETS, parse_mastery
from courses.models import Skill
from courses.selectors.catalogue import every_skill

DEFAULT_PROGRAMME = PRESETS["short_course"]
DEFAULT_MASTERY = asdict(MasteryConditions())
_NEVER = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class SkillRules:
    """Every version of one gate skill's rule by number; the newest is in force."""

    skill: Skill
    versions: Mapping[int, CompetenceRule]

    @property
    def newest(self) -> CompetenceRule:
        return self.versions[max(self.versions)]


def gate_skill(code: str) -> Skill:
    found = Skill.objects.filter(code=code, is_gate=True).first()
    if found is None:
        raise NotHere("gate skill")
    return found


@read_once
def skill_rules(academy: Academy) -> list[SkillRules]:
    """Rules of every gate skill in the catalogue's order; two queries.

    A gate skill that came after the academy opened has the default, not saved yet.
    """
    found: dict[int, dict[int, CompetenceRule]] = {}
    for rule in CompetenceRule.objects.filter(academy=academy):
        found.setdefault(rule.skill_id, {})[rule.number] = rule
    skills = [skill for skill in every_skill() if skill.is_gate]
    return [SkillRules(skill, found.get(skill.pk) or {1: default_rule(academy, skill)}) for skill in skills]


def rule_versions(academy: Academy, skill: Skill) -> list[CompetenceRule]:
    """Newest first, with who made them; one query."""
    rows = CompetenceRule.objects.filter(academy=academy, skill=skill).select_related("made_by__user")
    return list(rows) or [default_rule(academy, skill)]


def default_rule(academy: Academy, skill: Skill) -> CompetenceRule:
    """Not saved."""
    programme = dict(DEFAULT_PROGRAMME)
    return CompetenceRule(academy=academy, skill=skill, number=1, programme=programme, made_at=_NEVER)


@read_once
def mastery_rule(academy: Academy) -> MasteryRule:
    """The newest, or the default, not saved; one query."""
    newest = MasteryRule.objects.filter(academy=academy).first()
    return newest or MasteryRule(academy=academy, number=1, conditions=dict(DEFAULT_MASTERY), made_at=_NEVER)


def mastery_conditions(academy: Academy) -> MasteryConditions:
    """One query."""
    return parse_mastery(mastery_rule(academy).conditions)


def is_counted(academy: Academy, skill: Skill) -> bool:
    """Whether a published rubric counts this gate skill's faults fan by fan; one query."""
    return Criterion.objects.filter(
        version__rubric__academy=academy,
        version__published_at__isnull=False,
        skill=skill,
        is_gate=True,
        kind="counted",
    ).exists()
