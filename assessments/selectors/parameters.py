"""What the skill model holds fixed: the academy's newest parameters, and what they say about educators."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np

from academy.models import Academy, Membership
from academy.read_once import read_once
from assessments.models import Criterion, ParameterVersion
from assessments.selectors.skill_records import UNFITTED, model_criteria, model_skills
from assessments.skill.calibrate import UNLINKED
from assessments.skill.likelihood import category_weights, level_moments
from assessments.skill.model import StateSpaceModel
from assessments.skill.parameters import Criterion as ModelCriterion
from assessments.skill.parameters import Facet, Parameters, parameters_from_json
from assessments.skill.parameters import Skill as ModelSkill
from assessments.skill.report import Z90
from courses.models import Skill


@dataclass(frozen=True, slots=True)
class EducatorSeverity:
    """How many levels below (negative) or above the average one educator marks, with a 90 % interval."""

    educator: int
    name: str
    marks: int
    levels: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Severities:
    """What the newest refit says about educators; ``notes``: what limits the comparison, in sentences."""

    version: ParameterVersion | None
    educators: tuple[EducatorSeverity, ...]
    notes: tuple[str, ...]

    @property
    def is_linked(self) -> bool:
        """Whether shared students make the educators comparable."""
        alone = len(self.educators) < 2
        return not alone and not any(note.startswith(UNLINKED) for note in self.notes)


@read_once
def newest_parameters(academy: Academy) -> ParameterVersion | None:
    """None before the first refit; one query."""
    return ParameterVersion.objects.filter(academy=academy).first()


def parameters_in(version: ParameterVersion | None) -> Parameters:
    """As fitted, or the general ones before the first refit."""
    return UNFITTED if version is None else parameters_from_json(json.dumps(version.parameters))


def skill_model(
    version: ParameterVersion | None, skills: Iterable[Skill], criteria: Iterable[Criterion]
) -> StateSpaceModel:
    """The model with these parameters, which learn of the skills and criteria that they do not know yet."""
    written = "" if version is None else json.dumps(version.parameters, sort_keys=True)
    return _model(written, model_skills(skills), model_criteria(criteria))


def severities(academy: Academy) -> Severities:
    """Two queries, one before the first refit."""
    version = newest_parameters(academy)
    parameters = parameters_in(version)
    names = dict(
        Membership.objects.filter(academy=academy, pk__in=map(int, parameters.educators)).values_list(
            "pk", "user__name"
        )
    )
    found = [
        _in_levels(int(code), names[int(code)], facet, parameters)
        for code, facet in parameters.educators.items()
        if int(code) in names
    ]
    return Severities(version, tuple(sorted(found, key=lambda row: row.levels)), parameters.notes)


@lru_cache(maxsize=128)
def _model(
    written: str, skills: tuple[ModelSkill, ...], criteria: tuple[ModelCriterion, ...]
) -> StateSpaceModel:
    """Rows are immutable, so what they hold is laid out once in a process."""
    known = parameters_from_json(written) if written else UNFITTED
    return StateSpaceModel(known.covering(skills, criteria))


def _in_levels(pk: int, name: str, facet: Facet, parameters: Parameters) -> EducatorSeverity:
    """Severity as the difference it makes where an average educator gives a level in the middle."""
    spread = Z90 * sqrt(facet.variance)
    severity = np.array([0.0, facet.value + spread, facet.value, facet.value - spread])
    levels = level_moments(-severity, category_weights(parameters.thresholds).tolist())[0]
    average, low, middle, high = levels.tolist()
    return EducatorSeverity(pk, name, facet.marks, middle - average, low - average, high - average)
