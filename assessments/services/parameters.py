import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
from django.db import transaction

from academy.jobs import enqueue
from academy.models import Academy, Membership
from assessments.models import Criterion, ParameterVersion
from assessments.selectors.parameters import newest_parameters, parameters_in
from assessments.selectors.set_times import times_by_brief
from assessments.selectors.skill_records import (
    UNFITTED,
    marks_by_student,
    model_criteria,
    model_skills,
    record_of_marks,
    second_gradings,
)
from assessments.services.skill import write_standings
from assessments.skill.calibrate import calibration_sample, refitted
from assessments.skill.observations import StudentRecord
from assessments.skill.parameters import Parameters
from assessments.skill.table import mark_table
from assessments.skill.time_curve import LEARNED, TimePrior, prior_from_population
from courses.models import Skill

STUDENTS_A_BATCH = 100


@dataclass(frozen=True, slots=True)
class _Gathered:
    """Every record of an academy, those of blind second markers among them, and the criteria they name."""

    records: tuple[StudentRecord, ...]
    criteria: tuple[Criterion, ...]

    @property
    def sets(self) -> int:
        return sum(len(record.sets) for record in self.records)


def refit_parameters(*, academy: Academy, seed: int, now: datetime) -> ParameterVersion | None:
    """Fit the parameters to every mark up to now and bring all standings to them; None before the first mark.

    The fit starts from the general defaults each time, so the same marks and seed give the same parameters,
    and then the version in force stays. Decisions on competence follow in a task of their own.
    """
    gathered = _gather(academy)
    if not gathered.records:
        return None
    fitted, priors = _fitted(academy, gathered, seed), _time_priors(academy)
    version, is_new = _keep(academy, gathered, fitted, priors, now)
    if is_new:
        refilter(academy=academy, version=version, now=now)
        enqueue("assessments.tasks.refresh_competence", academy_id=academy.pk)
    return version


def refilter(*, academy: Academy, version: ParameterVersion, now: datetime) -> None:
    """Write the standings of all who have marks, current or not, a batch of students in each transaction."""
    skills = list(Skill.objects.all())
    for batch in _batches(academy):
        with transaction.atomic():
            students = list(Membership.objects.select_for_update().filter(pk__in=batch).order_by("pk"))
            marks = marks_by_student(batch)
            for student in students:
                write_standings(student, marks.get(student.pk, []), skills, version, now)


@transaction.atomic
def _keep(
    academy: Academy, gathered: _Gathered, fitted: Parameters, priors: Mapping[str, Any], now: datetime
) -> tuple[ParameterVersion, bool]:
    """The version that says this, and whether it is a new one."""
    Academy.objects.select_for_update().get(pk=academy.pk)  # two refits at once get two numbers
    newest = newest_parameters(academy)
    if newest and _same(newest, fitted, priors):
        return newest, False
    number = newest.number + 1 if newest else 1
    made = ParameterVersion.objects.create(
        academy=academy,
        number=number,
        parameters=json.loads(replace(fitted, version=f"parameters-{number}").to_json()),
        time_priors=priors,
        sets=gathered.sets,
        students=len(gathered.records),
        made_at=now,
    )
    return made, True


def _same(newest: ParameterVersion, fitted: Parameters, priors: Mapping[str, Any]) -> bool:
    known = parameters_in(newest)
    return known == replace(fitted, version=known.version) and newest.time_priors == priors


def _gather(academy: Academy) -> _Gathered:
    """Batch by batch, so that only the records stay in memory."""
    seconds = second_gradings(academy)
    records: list[StudentRecord] = []
    criteria: dict[int, Criterion] = {}
    for batch in _batches(academy):
        for marks in marks_by_student(batch).values():
            records.append(record_of_marks(marks, seconds))
            criteria |= {mark.criterion_id: mark.criterion for mark in marks}
    return _Gathered(tuple(records), tuple(criteria.values()))


def _fitted(academy: Academy, gathered: _Gathered, seed: int) -> Parameters:
    rng = np.random.default_rng(seed)
    start = _start(academy, gathered.criteria)
    table = mark_table(gathered.records, [criterion.code for criterion in start.criteria])
    return refitted(calibration_sample(table, rng), start, rng, version="fitted")


def _start(academy: Academy, marked: Sequence[Criterion]) -> Parameters:
    """The defaults, knowing every criterion that is published or has marks."""
    published = Criterion.objects.filter(
        version__rubric__academy=academy, version__published_at__isnull=False
    ).select_related("skill")
    criteria = model_criteria([*marked, *published.order_by("version__published_at", "pk")])
    return UNFITTED.covering(model_skills(Skill.objects.all()), criteria)


def _time_priors(academy: Academy) -> dict[str, Any]:
    """Of the briefs on which enough students have enough timed sets."""
    found = {}
    for brief, students in times_by_brief(academy).items():
        prior = prior_from_population(students, first_s=students[0][1][0])
        if prior.source == LEARNED:
            found[str(brief)] = _written(prior)
    return found


def _written(prior: TimePrior) -> dict[str, Any]:
    return {"mean": prior.mean.tolist(), "covariance": prior.covariance.tolist(), "noise": prior.noise}


def _batches(academy: Academy) -> Iterator[list[int]]:
    """Everybody with a graded set here, also after leaving."""
    found: Iterable[int] = (
        Membership.objects.filter(academy=academy, practice_sets__state="graded")
        .order_by("pk")
        .values_list("pk", flat=True)
        .distinct()
    )
    students = list(found)
    for first in range(0, len(students), STUDENTS_A_BATCH):
        yield students[first : first + STUDENTS_A_BATCH]
