"""Tasks do their one thing: letters, decisions afresh, a refit each night; twice is as once."""

from celery import current_app

from assessments.models import (
    AgreementReport,
    CompetenceStanding,
    GateClosing,
    GateOpening,
    ParameterVersion,
    SkillStanding,
)
from assessments.tasks import record_all_lapses, refit_all, refit_parameters, refresh_competence
from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_graded_set
from tests.factories.gate import READY_AT, consent, easier, make_open_gate
from tests.factories.gate_falls import unit_not_passed
from tests.factories.second_marks import second_result

FOR_YEARS = easier(lapse_days=3660)  # the tasks read the clock of this machine


def test_signing_sends_the_letter_after_the_transaction(
    bench: Bench, mailoutbox, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        make_graded_set(bench)
        assert mailoutbox == []
    assert [letter.subject for letter in mailoutbox] == ["Your marks for set 1 at Marram Lane Lash School"]


def test_deciding_afresh_twice_is_harmless(bench: Bench):
    make_graded_set(bench)
    hers = CompetenceStanding.objects.filter(student=bench.student).order_by("skill")
    before = hers.values_list("skill", "status", "sets", "words")
    told = list(before.all())
    for _ in range(2):
        refresh_competence(academy_id=bench.academy.pk)
    assert len(told) == 4 and list(before.all()) == told


def test_signing_a_second_mark_computes_agreement_and_sends_the_student_nothing(
    bench: Bench, cast: Cast, mailoutbox, django_capture_on_commit_callbacks
):
    grade = make_graded_set(bench)
    with django_capture_on_commit_callbacks(execute=True):
        second_result(grade, cast.second)
    assert AgreementReport.objects.get().second_marks == 1
    assert mailoutbox == []


def test_refitting_twice_keeps_one_version_and_the_same_standings(bench: Bench):
    make_graded_set(bench)
    told = []
    for _ in range(2):
        refit_parameters(academy_id=bench.academy.pk)
        told.append(
            list(SkillStanding.objects.order_by("skill").values_list("skill", "level", "model_version"))
        )
    assert ParameterVersion.objects.count() == 1 and told[0] == told[1]


def test_every_night_each_academy_is_refitted_and_decided_afresh(
    bench: Bench, django_capture_on_commit_callbacks
):
    make_graded_set(bench)
    with django_capture_on_commit_callbacks(execute=True):
        refit_all()
    assert [version.academy for version in ParameterVersion.objects.all()] == [bench.academy]


def test_a_consent_withdrawn_is_seen_by_the_gate_once_it_is_kept(
    cast: Cast, django_capture_on_commit_callbacks
):
    make_open_gate(cast, gate=FOR_YEARS)
    with django_capture_on_commit_callbacks(execute=True):
        consent(cast.ada, given=False, at=READY_AT)
    assert [closing.kind for closing in GateClosing.objects.all()] == ["conditions"]


def test_hours_and_sign_offs_are_seen_by_the_gate(cast: Cast, django_capture_on_commit_callbacks):
    make_open_gate(cast, gate=FOR_YEARS)
    with django_capture_on_commit_callbacks(execute=True):
        unit_not_passed(cast, GateOpening.objects.get().enrolment, READY_AT)
    assert "Units before a live model" in GateClosing.objects.get().words


def test_every_night_lapses_are_written_down_in_each_academy(cast: Cast, django_capture_on_commit_callbacks):
    """The story is of last winter, so the gate has lapsed by the clock of this machine."""
    make_open_gate(cast)
    for _ in range(2):
        with django_capture_on_commit_callbacks(execute=True):
            record_all_lapses()
    assert [closing.kind for closing in GateClosing.objects.all()] == ["lapse"]


def test_the_timetable_names_a_task_that_exists():
    for entry in current_app.conf.beat_schedule.values():
        assert entry["task"] in current_app.tasks
