"""What a report rests on: first marks as first signed, second marks up to an instant, clocks left out."""

import json
from datetime import timedelta

import pytest

from academy.models import Role
from assessments.models import ParameterVersion
from assessments.scoring.agreement_report import Figure
from assessments.selectors.agreement import SeverityRow, agreement_data, agreement_state, severity_table
from assessments.services.agreement import compute_agreement
from assessments.services.marking import correct_marks
from assessments.skill.parameters import Facet, Parameters
from tests.factories.academy import Cast, make_member, make_user
from tests.factories.assessments import STARTED, Bench, make_entry
from tests.factories.bench import graded_set, make_bench
from tests.factories.second_marks import LATER, give_second_mark, second_result

MUCH_LATER = LATER + timedelta(days=9)


def test_both_levels_of_a_set_come_with_who_gave_them(bench: Bench, cast: Cast, django_assert_num_queries):
    grade = graded_set(bench, entry=make_entry(levels={"product": 1}))
    second_result(grade, cast.second, {"product": 3})
    with django_assert_num_queries(5):
        data = agreement_data(cast.academy, until=MUCH_LATER)
    (row,) = data.double
    assert (row.first_by, row.second_by, row.student) == ("Ines Carvalho", "Tova Lind", str(cast.ada.pk))
    assert (row.first["product"], row.second["product"]) == (1, 3)
    assert int(row.day) == int(STARTED.timestamp() // 86_400)
    assert next(iter(data.names)) == "isolation" and "time" not in data.names
    assert data.newest_at == LATER


def test_a_later_correction_does_not_flatter_agreement(bench: Bench, cast: Cast):
    grade = graded_set(bench, entry=make_entry(levels={"product": 1}))
    second_result(grade, cast.second, {"product": 3})
    correct_marks(
        actor=cast.owner,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"product": 3}),
        reason="We talked.",
        base_revision=1,
        now=LATER,
    )
    assert agreement_data(cast.academy, until=MUCH_LATER).double[0].first["product"] == 1


def test_only_marks_signed_up_to_the_instant_count(bench: Bench, cast: Cast):
    second_result(graded_set(bench), cast.second)
    graded_set(make_bench(cast, cast.bea, head="Head 2"))
    early = agreement_data(cast.academy, until=LATER - timedelta(minutes=1))
    assert (early.double, len(early.firsts), early.newest_at) == ((), 2, None)
    assert agreement_data(cast.academy, until=STARTED).firsts == ()


def test_two_educators_of_one_name_are_told_apart(bench: Bench, cast: Cast):
    namesake = make_member(
        cast.academy, "", Role.EDUCATOR, user=make_user("Ines Carvalho", "ines.2@people.example")
    )
    second_result(graded_set(bench), namesake)
    (row,) = agreement_data(cast.academy, until=MUCH_LATER).double
    assert (row.first_by, row.second_by) == ("Ines Carvalho (1)", "Ines Carvalho (2)")


def test_the_state_says_what_the_newest_report_does_not_know_yet(
    bench: Bench, cast: Cast, django_assert_num_queries
):
    assert agreement_state(cast.academy).findings is None
    second_result(graded_set(bench), cast.second)
    compute_agreement(academy=cast.academy, until=MUCH_LATER, seed=1, now=MUCH_LATER)
    give_second_mark(graded_set(make_bench(cast, cast.bea, head="Head 2")), cast.second)
    second_result(graded_set(make_bench(cast, head="Head 3"), at=LATER), cast.second, at=MUCH_LATER)
    with django_assert_num_queries(2):
        state = agreement_state(cast.academy)
    assert state.findings is not None
    assert (state.findings.sets, state.newer, state.waiting, state.waived) == (1, 1, 1, 0)


def test_a_report_of_an_older_format_is_not_shown(bench: Bench, cast: Cast):
    report = compute_agreement(academy=cast.academy, until=LATER, seed=1, now=LATER)
    older = dict(report.findings, format=0)
    type(report).objects.create(
        academy=cast.academy, until=LATER, second_marks=0, findings=older, computed_at=LATER
    )
    state = agreement_state(cast.academy)
    assert (state.report, state.findings) == (None, None)


def keep_severities(cast: Cast, educators: dict[str, Facet], notes: tuple[str, ...] = ()) -> None:
    made = Parameters("parameters-1", (), (), educators=educators, notes=notes)
    ParameterVersion.objects.create(
        academy=cast.academy,
        number=1,
        parameters=json.loads(made.to_json()),
        sets=9,
        students=3,
        made_at=LATER,
    )


def test_both_views_of_how_strict_an_educator_is_stand_in_one_row(
    bench: Bench, cast: Cast, django_assert_num_queries
):
    for number in range(3):
        at = LATER + timedelta(days=number)
        second_result(graded_set(bench, at=at), cast.second, {"product": 3}, at=at + timedelta(hours=9))
    compute_agreement(academy=cast.academy, until=MUCH_LATER, seed=1, now=MUCH_LATER)
    ines, tova = Facet(0.5, 0.01, 90), Facet(-0.5, 0.01, 70)
    keep_severities(cast, {str(cast.ines.pk): ines, str(cast.second.pk): tova})
    findings = agreement_state(cast.academy).findings
    assert findings is not None
    with django_assert_num_queries(3):
        table = severity_table(cast.academy, findings)
    first, second = table.rows
    assert (first.name, second.name, table.is_linked) == ("Ines Carvalho", "Tova Lind", True)
    assert (first.daily_marks, second.daily_marks) == (90, 70)
    assert (first.twice_marks, first.twice) == (findings.educators[0].marks, findings.educators[0].severity)
    assert (
        (first.daily.value or 0) < 0 < (second.daily.value or 0)
    )  # more severity, lower levels (definition)


@pytest.mark.parametrize("note", ["The educators fall into 2 groups with no student in common.", ""])
def test_educators_who_share_no_student_get_a_warning_and_no_figures_from_daily_marks(cast: Cast, note: str):
    both = {str(member.pk): Facet(0.5, 0.01, 90) for member in (cast.ines, cast.owner)}
    keep_severities(cast, both, (note,) if note else ())
    table = severity_table(cast.academy, None)
    assert table.is_linked is not bool(note)
    assert all((row.daily.value is None) is bool(note) for row in table.rows)
    assert table.notes == ((note,) if note else ())


def test_one_educator_alone_is_compared_with_nobody(cast: Cast):
    keep_severities(cast, {str(cast.ines.pk): Facet(0.0, 0.0, 90)})
    (row,) = severity_table(cast.academy, None).rows
    assert (row.daily.value, row.twice.value, row.disagree) == (None, None, False)


@pytest.mark.parametrize(("low", "high", "apart"), [(0.1, 0.3, False), (0.31, 0.5, True), (-0.9, -0.6, True)])
def test_intervals_that_do_not_meet_are_told(low: float, high: float, apart: bool):
    daily = Figure((low + high) / 2, low, high)
    assert SeverityRow("Ines", Figure(0.0, -0.5, 0.3), 9, daily, 90).disagree is apart
