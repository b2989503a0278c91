"""What the page said when marks were signed, what it says now, and what lies between."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import cast

from academy.errors import NotHere
from academy.models import Membership
from assessments.models import Grade, Mark, ParameterVersion, StandingShown
from assessments.selectors.parameters import newest_parameters
from assessments.selectors.skill import Reckoning, reckoning
from courses.models import Skill

Levels = dict[str, float]


@dataclass(frozen=True, slots=True)
class Change:
    """One skill: the level shown then, the steps from there, and the level now; to the tenths shown.

    The steps are 0 and ``then`` is None for a skill that had no mark yet.
    """

    name: str
    then: float | None
    by_parameters: float
    by_corrections: float
    by_new_sets: float
    by_rest: float
    now: float

    @property
    def words(self) -> str:
        if self.then is None:
            return f"{self.name}: not marked then, {self.now:.1f} now."
        causes = (
            (self.by_parameters, "new parameters"),
            (self.by_corrections, "corrected marks"),
            (self.by_new_sets, "new sets"),
            (self.by_rest, "days without practice"),
        )
        told = ", ".join(f"{step:+.1f} from {cause}" for step, cause in causes if step)
        return f"{self.name}: {self.then:.1f} then, {self.now:.1f} now; {told or 'nothing has moved it'}."


@dataclass(frozen=True, slots=True)
class Changes:
    """``choices``: every signing whose figures are kept, newest first; ``since``: the one looked back to."""

    choices: tuple[Grade, ...]
    since: Grade | None
    version_then: str
    version: ParameterVersion | None
    model_version: str
    lines: tuple[Change, ...]

    @property
    def has_moved(self) -> bool:
        return any(line.then != line.now for line in self.lines)


def changes_of(student: Membership, grade_id: int | None, *, now: datetime) -> Changes:
    """From the signing asked for, or the last but one, until ``now``; four queries, whatever the sets.

    A signing of somebody else is NotHere.
    """
    kept = _kept(student)
    version = newest_parameters(student.academy)
    if not kept:
        return Changes((), None, "", version, "", ())
    shown = _chosen(kept, grade_id)
    marks, skills = _all_marks(student), list(Skill.objects.all())
    found = _stages(marks, skills, version, since=shown.grade.signed_at, now=now)
    names = {skill.code: skill.name for skill in skills}
    stages = [_shown_levels(shown), *(_levels(stage) for stage in found)]
    return Changes(
        choices=tuple(each.grade for each in kept),
        since=shown.grade,
        version_then=shown.model_version,
        version=version,
        model_version=found[-1].model.version,
        lines=tuple(_change(names[code], code, stages) for code in stages[-1]),
    )


def _stages(
    marks: Sequence[Mark],
    skills: Sequence[Skill],
    version: ParameterVersion | None,
    *,
    since: datetime,
    now: datetime,
) -> tuple[Reckoning, Reckoning, Reckoning, Reckoning]:
    """By today's parameters: the marks as they stood, as they are corrected, with the new sets, and now."""
    as_stood = _counting(mark for mark in marks if mark.grade.signed_at <= since)
    old_sets = {mark.grade.practice_set_id for mark in as_stood}
    today = _counting(marks)
    corrected = [mark for mark in today if mark.grade.practice_set_id in old_sets]
    before = reckoning(corrected, skills, version, now=since)
    with_new = before
    if len(today) > len(corrected):
        finished = [cast(datetime, mark.grade.practice_set.finished_at) for mark in today]
        with_new = reckoning(today, skills, version, now=max(finished))
    return (
        reckoning(as_stood, skills, version, now=since),
        before,
        with_new,
        reckoning(today, skills, version, now=now),
    )


def _change(name: str, code: str, stages: Sequence[Levels]) -> Change:
    """Steps between levels to the tenth, so that they add up as shown."""
    then, *later = (stage.get(code) for stage in stages)
    now = cast(float, later[-1])
    if then is None or None in later:
        return Change(name, None, 0.0, 0.0, 0.0, 0.0, now)
    path = cast(list[float], [then, *later])
    parameters, corrections, new_sets, rest = (round(after - before, 1) for before, after in pairwise(path))
    return Change(name, then, parameters, corrections, new_sets, rest, now)


def _shown_levels(shown: StandingShown) -> Levels:
    return {code: round(level, 1) for code, (level, _, _) in shown.figures.items()}


def _levels(found: Reckoning) -> Levels:
    return {each.target.skill: round(cast(float, each.estimate.level), 1) for each in found.skills}


def _kept(student: Membership) -> list[StandingShown]:
    return list(
        StandingShown.objects.filter(grade__practice_set__student=student)
        .select_related("grade__practice_set")
        .order_by("-grade__signed_at", "-pk")
    )


def _chosen(kept: Sequence[StandingShown], grade_id: int | None) -> StandingShown:
    if grade_id is None:
        return kept[min(1, len(kept) - 1)]
    found = next((each for each in kept if each.grade_id == grade_id), None)
    if found is None:
        raise NotHere("signing")
    return found


def _all_marks(student: Membership) -> list[Mark]:
    """Of every revision, oldest set first, its revisions in order."""
    return list(
        Mark.objects.filter(grade__practice_set__student=student)
        .select_related("criterion__skill", "grade__practice_set")
        .defer("words", "grade__entry", "grade__verdict", "grade__note")
        .order_by("grade__practice_set__number", "grade__revision", "criterion__order")
    )


def _counting(marks: Iterable[Mark]) -> list[Mark]:
    """Those of the newest revision among them."""
    given = list(marks)
    newest: Mapping[int, int] = {mark.grade.practice_set_id: mark.grade_id for mark in given}
    return [mark for mark in given if newest[mark.grade.practice_set_id] == mark.grade_id]
