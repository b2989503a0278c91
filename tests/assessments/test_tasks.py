"""Tasks do their one thing: letters once a signature stands, decisions afresh once a rule has changed."""

from assessments.models import AgreementReport, CompetenceStanding
from assessments.tasks import refresh_competence
from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_graded_set
from tests.factories.second_marks import second_result


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
