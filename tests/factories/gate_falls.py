"""How each condition of the gate falls away from a student who has everything, and comes back."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from assessments.models import Grade
from assessments.services.marking import correct_marks
from courses.models import Enrolment, HoursEntry
from courses.services.hours import HoursContent, correct_hours
from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_entry, make_graded_set
from tests.factories.courses import make_brief, make_head
from tests.factories.gate import consent, make_set, pass_unit

Fall = Callable[[Cast, Enrolment, datetime], Any]


def unit_not_passed(cast: Cast, enrolment: Enrolment, at: datetime) -> None:
    pass_unit(enrolment, cast.ines, passed=False, at=at)


def unit_passed_again(cast: Cast, enrolment: Enrolment, at: datetime) -> None:
    pass_unit(enrolment, cast.ines, at=at)


def hours_taken_back(cast: Cast, enrolment: Enrolment, at: datetime, minutes: int = 30) -> None:
    entry = HoursEntry.objects.get(enrolment=enrolment, corrected_by=None)
    content = HoursContent("theory", minutes, on=date(2026, 1, 13))
    correct_hours(entry=entry, content=content, reason="left early", actor=cast.ines, now=at)


def hours_given_back(cast: Cast, enrolment: Enrolment, at: datetime) -> None:
    hours_taken_back(cast, enrolment, at, minutes=90)


def consent_withdrawn(cast: Cast, enrolment: Enrolment, at: datetime) -> None:
    consent(enrolment.student, given=False, at=at)


def consent_given_again(cast: Cast, enrolment: Enrolment, at: datetime) -> None:
    consent(enrolment.student, at=at)


def hygiene_line_missed(cast: Cast, enrolment: Enrolment, at: datetime) -> None:
    """In the next graded set, signed at ``at``."""
    entry = replace(make_entry(), lines_missed=("ventilation",))
    _next_set(cast, enrolment, at, entry=entry)


def isolation_slips(cast: Cast, enrolment: Enrolment, at: datetime) -> None:
    """One failed gate is enough for the quick watch: the skill goes into review."""
    _next_set(cast, enrolment, at, entry=make_entry(levels={"isolation": 1}))


def another_set(cast: Cast, enrolment: Enrolment, at: datetime) -> None:
    """Clean, but nobody has marked it blind."""
    _next_set(cast, enrolment, at)


def marks_corrected(cast: Cast, enrolment: Enrolment, at: datetime, level: int = 2) -> None:
    """Of the set that everything rests on: a criterion that is no gate falls below the mastery level."""
    grade = Grade.objects.filter(practice_set__student=enrolment.student).order_by("signed_at")[0]
    newest = grade.practice_set.grades.all()[0]
    correct_marks(
        actor=cast.ines,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"wrap": level}),
        reason="looked again",
        base_revision=newest.revision,
        now=at,
    )


def marks_corrected_back(cast: Cast, enrolment: Enrolment, at: datetime) -> None:
    marks_corrected(cast, enrolment, at, level=3)


def _next_set(cast: Cast, enrolment: Enrolment, at: datetime, **made: Any) -> None:
    began = at - timedelta(minutes=280)
    if not made:
        make_set(cast, enrolment.student, at=began)
        return
    name = f"Next {at:%d %H}"
    brief, head = make_brief(cast.academy, cast.owner, name=name), make_head(cast.academy, name)
    make_graded_set(Bench(enrolment.student, cast.ines, brief, head), at=began, **made)


# Condition by its code: how it falls away before or after the gate is open.
FALLS: dict[str, Fall] = {
    "units": unit_not_passed,
    "theory_hours": hours_taken_back,
    "hygiene": hygiene_line_missed,
    "competence": isolation_slips,
    "mastery": marks_corrected,
    "consent_assessment_record": consent_withdrawn,
}
# And how it comes back, where one row can bring it.
RETURNS: dict[str, Fall] = {
    "units": unit_passed_again,
    "theory_hours": hours_given_back,
    "mastery": marks_corrected_back,
    "consent_assessment_record": consent_given_again,
}
