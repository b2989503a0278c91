"""How evenly educators mark: the marks of sets marked twice, and the newest report on them."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from django.db.models import Count, Max

from academy.models import Academy, Membership
from assessments.models import AgreementReport, Criterion, Mark, ParameterVersion, SecondLevel, SecondMark
from assessments.scoring.agreement_report import DoubleMarked, Figure, Findings, FirstMarks, read_findings
from assessments.selectors.parameters import EducatorSeverity, severities

DAY_S = 86_400
NOTHING = Figure(None, None, None)
Levels = dict[int, dict[str, int]]


@dataclass(frozen=True, slots=True)
class AgreementData:
    """All that a report rests on; ``names``: criterion code to name, gates first."""

    double: tuple[DoubleMarked, ...]
    firsts: tuple[FirstMarks, ...]
    names: dict[str, str]
    newest_at: datetime | None


@dataclass(frozen=True, slots=True)
class AgreementState:
    """The newest report; ``newer``: second marks not in it. ``findings`` is None before the first."""

    report: AgreementReport | None
    findings: Findings | None
    newer: int
    waiting: int
    waived: int


@dataclass(frozen=True, slots=True)
class SeverityRow:
    """One educator's distance from the average one in levels, told in two ways; None where one is silent.

    ``twice``: from sets that two educators marked. ``daily``: from the marks of every day, by the skill
    model.
    """

    name: str
    twice: Figure
    twice_marks: int
    daily: Figure
    daily_marks: int

    @property
    def disagree(self) -> bool:
        """Whether the two intervals do not meet."""
        ends = (self.twice.low, self.twice.high, self.daily.low, self.daily.high)
        if any(end is None for end in ends):
            return False
        low, high, other_low, other_high = cast(tuple[float, float, float, float], ends)
        return low > other_high or other_low > high


@dataclass(frozen=True, slots=True)
class SeverityTable:
    """``notes``: what limits the comparison by the marks of every day; ``is_linked``: of those too."""

    rows: tuple[SeverityRow, ...]
    notes: tuple[str, ...]
    is_linked: bool
    version: ParameterVersion | None


@dataclass(frozen=True, slots=True)
class _First:
    """The first signature of one set."""

    student: str
    educator: int
    at: datetime


def agreement_state(academy: Academy) -> AgreementState:
    """Two queries, however many marks there are."""
    report = AgreementReport.objects.filter(academy=academy).first()
    states = dict(
        SecondMark.objects.filter(practice_set__academy=academy)
        .values_list("state")
        .annotate(Count("pk"))
        .order_by()
    )
    findings = read_findings(report.findings) if report else None
    return AgreementState(
        report=report if findings else None,
        findings=findings,
        newer=max(0, states.get("done", 0) - (report.second_marks if report and findings else 0)),
        waiting=states.get("open", 0),
        waived=states.get("waived", 0),
    )


def severity_table(academy: Academy, findings: Findings | None) -> SeverityTable:
    """Both views of how strict each educator is, by name; three queries, one before the first refit.

    A view that cannot compare educators, for want of shared sets or students, gives no figures.
    """
    daily = severities(academy)
    labels = _labels(found.educator for found in daily.educators) if daily.educators else {}
    models = {labels[found.educator]: found for found in daily.educators}
    twice = {found.name: found for found in findings.educators} if findings and findings.is_linked else {}
    rows = tuple(
        SeverityRow(
            name=name,
            twice=twice[name].severity if name in twice else NOTHING,
            twice_marks=twice[name].marks if name in twice else 0,
            daily=_daily(models.get(name)) if daily.is_linked else NOTHING,
            daily_marks=models[name].marks if name in models else 0,
        )
        for name in sorted(models.keys() | twice.keys())
    )
    return SeverityTable(rows, daily.notes, daily.is_linked, daily.version)


def _daily(found: EducatorSeverity | None) -> Figure:
    return NOTHING if found is None else Figure(found.levels, found.low, found.high)


def agreement_data(academy: Academy, *, until: datetime) -> AgreementData:
    """First and second marks signed up to ``until``; five queries. First marks as they were first signed."""
    levels, signed = _first_marks(academy, until)
    seconds = list(
        SecondMark.objects.filter(
            practice_set__academy=academy, state=SecondMark.State.DONE, closed_at__lte=until
        ).values_list("pk", "practice_set_id", "grade__signed_by_id", "grade__signed_at")
    )
    second_levels = _second_levels(row[0] for row in seconds)
    labels = _labels({first.educator for first in signed.values()} | {row[2] for row in seconds})
    double = tuple(
        DoubleMarked(
            student=signed[set_id].student,
            day=signed[set_id].at.timestamp() / DAY_S,
            first_by=labels[signed[set_id].educator],
            second_by=labels[second_by],
            first=levels[set_id],
            second=second_levels[pk],
        )
        for pk, set_id, second_by, _ in seconds
        if set_id in signed
    )
    return AgreementData(
        double=double,
        firsts=tuple(
            FirstMarks(first.student, labels[first.educator], levels[set_id])
            for set_id, first in signed.items()
        ),
        names=_criterion_names(academy),
        newest_at=max((row[3] for row in seconds), default=None),
    )


def _first_marks(academy: Academy, until: datetime) -> tuple[Levels, dict[int, _First]]:
    """Levels and signature by set; one query."""
    levels: Levels = defaultdict(dict)
    signed: dict[int, _First] = {}
    rows = Mark.objects.filter(
        grade__revision=1, grade__practice_set__academy=academy, grade__signed_at__lte=until
    ).values_list(
        "grade__practice_set_id",
        "grade__practice_set__student_id",
        "grade__signed_by_id",
        "grade__signed_at",
        "criterion__code",
        "level",
    )
    for set_id, student_id, educator_id, at, code, level in rows.iterator(chunk_size=5000):
        levels[set_id][code] = level
        signed[set_id] = _First(str(student_id), educator_id, at)
    return levels, signed


def _second_levels(second_marks: Iterable[int]) -> Levels:
    levels: Levels = defaultdict(dict)
    rows = SecondLevel.objects.filter(grade__second_mark__in=list(second_marks))
    for pk, code, level in rows.values_list("grade__second_mark_id", "criterion__code", "level"):
        levels[pk][code] = level
    return levels


def _labels(member_ids: Iterable[int]) -> dict[int, str]:
    """A name for each who has signed, with a number behind it where two share one; one query."""
    rows = Membership.objects.filter(pk__in=set(member_ids)).order_by("pk").values_list("pk", "user__name")
    sharing = Counter(name for _, name in rows)
    seen: Counter[str] = Counter()
    labels = {}
    for pk, name in rows:
        seen[name] += 1
        labels[pk] = f"{name} ({seen[name]})" if sharing[name] > 1 else name
    return labels


def _criterion_names(academy: Academy) -> dict[str, str]:
    """The newest name of each criterion that is not read from the clock."""
    rows = (
        Criterion.objects.filter(version__rubric__academy=academy, version__published_at__isnull=False)
        .exclude(kind="timed")
        .values("code")
        .annotate(newest=Max("pk"))
        .values_list("newest", flat=True)
    )
    newest = Criterion.objects.filter(pk__in=rows)
    ordered = sorted(newest, key=lambda row: (not row.is_gate, row.order))
    return {row.code: row.name for row in ordered}
