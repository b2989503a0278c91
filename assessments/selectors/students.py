from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Exists, F, Max, Min, OuterRef, Q, QuerySet

from academy.errors import NotHere
from academy.models import Academy, Membership, Role
from academy.selectors.people import students as current_students
from assessments.models import CompetenceStanding, Grade, PracticeSet, SkillStanding
from assessments.selectors.grades import days_between, grade_lines, local_day
from assessments.selectors.skill import BELOW_TARGET
from assessments.skill.weak import CLAIM


@dataclass(frozen=True, slots=True)
class StudentRow:
    """One line of the list; ``neediest`` and ``grade`` are None before the first graded set.

    ``weakest``: the skill that is the weakest likelier than not; None when none stands out.
    ``decided``: where the decision on each gate skill stands, as of the latest marks or rule.
    """

    student: Membership
    neediest: SkillStanding | None
    weakest: SkillStanding | None
    gates_low: int
    decided: tuple[CompetenceStanding, ...]
    sets: int
    last_set_at: datetime | None
    idle_days: int | None
    grade: Grade | None
    is_drill_late: bool

    @property
    def competent(self) -> int:
        """Gate skills declared competent."""
        return sum(each.status == CompetenceStanding.Status.COMPETENT for each in self.decided)

    @property
    def in_review(self) -> int:
        return sum(each.status == CompetenceStanding.Status.REVIEW for each in self.decided)

    @property
    def level(self) -> float | None:
        """That of the skill most in need, to the tenth that is shown."""
        level = self.neediest.level if self.neediest else None
        return None if level is None else round(level, 1)


def student(academy: Academy, student_id: int) -> Membership:
    """One student of this academy, also after leaving; a foreign or unknown id is NotHere."""
    found = Membership.objects.filter(academy=academy, role=Role.STUDENT, pk=student_id)
    row = found.select_related("academy", "user", "cohort").first()
    if row is None:
        raise NotHere("student")
    return row


def students_by_need(
    academy: Academy, *, cohort_id: int | None = None, search: str = "", blind: Collection[int] = ()
) -> QuerySet[Membership]:
    """Current students: those with a gate skill below target first, then by the lowest level; unmarked last.

    ``blind``: students of whom the reader has a set to mark blind. They stand with the unmarked, by name, so
    that their place says nothing about the first result. One query, sorted in the database. One target serves
    all skills, so the lowest level is the largest gap.
    """
    found = current_students(academy)
    if cohort_id is not None:
        found = found.filter(cohort=cohort_id)
    for word in search.split():
        found = found.filter(user__name__icontains=word)
    open_to_reader = ~Q(pk__in=blind)
    gate_below = Q(standings__skill__is_gate=True, standings__level__lt=BELOW_TARGET)
    return found.annotate(
        lowest_gate=Min("standings__level", filter=gate_below & open_to_reader),
        lowest=Min("standings__level", filter=open_to_reader),
    ).order_by(F("lowest_gate").asc(nulls_last=True), F("lowest").asc(nulls_last=True), "user__name", "pk")


def student_rows(academy: Academy, page: Sequence[Membership], *, now: datetime) -> list[StudentRow]:
    """What the list says about the students of one page, in their order; four queries."""
    ids = [student.pk for student in page]
    today = local_day(academy, now)
    decided = _decided(ids)
    standings, counts, grades = _standings(ids), _set_counts(ids), _newest_grades(academy, ids)
    rows = []
    for student in page:
        ranked = sorted(standings.get(student.pk, []), key=_rank)
        sets, last = counts.get(student.pk, (0, None))
        rows.append(
            StudentRow(
                student=student,
                neediest=ranked[0] if ranked else None,
                weakest=next((each for each in ranked if (each.chance_weakest or 0) > CLAIM), None),
                gates_low=sum(_is_low_gate(standing) for standing in ranked),
                decided=tuple(decided.get(student.pk, ())),
                sets=sets,
                last_set_at=last,
                idle_days=None if last is None else days_between(academy, last, now),
                grade=grades.get(student.pk),
                is_drill_late=_is_late(grades.get(student.pk), today),
            )
        )
    return rows


def _standings(ids: Sequence[int]) -> dict[int, list[SkillStanding]]:
    found: dict[int, list[SkillStanding]] = {}
    rows = SkillStanding.objects.filter(student__in=ids, level__isnull=False)
    for standing in rows.prefetch_related("skill").defer("words"):
        found.setdefault(standing.student_id, []).append(standing)
    return found


def _decided(ids: Sequence[int]) -> dict[int, list[CompetenceStanding]]:
    found: dict[int, list[CompetenceStanding]] = {}
    for standing in CompetenceStanding.objects.filter(student__in=ids).only("student_id", "status"):
        found.setdefault(standing.student_id, []).append(standing)
    return found


def _set_counts(ids: Sequence[int]) -> dict[int, tuple[int, datetime | None]]:
    """Student id to the number of graded sets and the day of the last set of any kind."""
    rows = PracticeSet.objects.filter(student__in=ids).order_by().values("student")
    counted = rows.annotate(graded=Count("pk", filter=Q(state="graded")), last=Max("created_at"))
    return {row["student"]: (row["graded"], row["last"]) for row in counted}


def _newest_grades(academy: Academy, ids: Sequence[int]) -> dict[int, Grade]:
    later = PracticeSet.objects.filter(
        student=OuterRef("practice_set__student"), state="graded", number__gt=OuterRef("practice_set__number")
    )
    found = grade_lines(academy).filter(~Exists(later), practice_set__student__in=ids)
    return {grade.practice_set.student_id: grade for grade in found}


def _is_late(grade: Grade | None, today: date) -> bool:
    return grade is not None and grade.drill_due_on is not None and grade.drill_due_on < today


def _rank(standing: SkillStanding) -> tuple[bool, float, str]:
    return not _is_low_gate(standing), standing.level or 0.0, standing.skill.name


def _is_low_gate(standing: SkillStanding) -> bool:
    return standing.skill.is_gate and standing.level is not None and standing.level < BELOW_TARGET
