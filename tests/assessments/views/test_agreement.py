"""The Agreement page says what the newest report says, and computing is work for the background."""

import json
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from academy.models import Membership
from assessments.models import AgreementReport, ParameterVersion, SecondMarkRate
from assessments.services.agreement import compute_agreement
from assessments.skill.parameters import Facet, Parameters
from tests.factories.academy import Cast
from tests.factories.assessments import Bench
from tests.factories.bench import graded_set
from tests.factories.second_marks import LATER, give_second_mark, second_result

SignIn = Callable[[Membership], Client]
PAGE = reverse("assessments:agreement")
COMPUTE = reverse("assessments:agreement-compute")
RATE = reverse("assessments:agreement-rate")


@pytest.fixture
def ines(bench: Bench, client_for: SignIn) -> Client:
    return client_for(bench.educator)


def test_before_any_report_the_page_says_what_to_do(ines: Client):
    text = ines.get(PAGE).content.decode()
    assert "No figures yet" in text and "Second marks are off" in text
    assert RATE not in text  # only the owner sets it


def test_the_page_tells_figures_sentences_and_what_they_rest_on(ines: Client, bench: Bench, cast: Cast):
    for number in range(3):
        grade = graded_set(bench, at=LATER + timedelta(days=number))
        second_result(grade, cast.second, {"product": number + 1}, at=LATER + timedelta(days=number, hours=9))
    now = LATER + timedelta(days=9)
    compute_agreement(academy=cast.academy, until=now, seed=1, now=now)
    text = ines.get(PAGE).content.decode()
    for words in (
        "On 3 sets marked twice",
        "only indicative",
        "<svg",
        "Weighted kappa",
        "from 3 sets marked twice",
    ):
        assert words in text
    assert "Too few sets to see a change in the marks of Ines Carvalho" in text


def test_with_one_educator_pair_missing_the_warning_stands_instead_of_severity(
    ines: Client, bench: Bench, cast: Cast
):
    compute_agreement(academy=cast.academy, until=LATER, seed=1, now=LATER)
    text = ines.get(PAGE).content.decode()
    assert "No set has been marked twice yet" in text and "By educator" not in text


def test_computing_is_queued_and_the_report_counts_marks_up_to_the_day(
    ines: Client, bench: Bench, cast: Cast, django_capture_on_commit_callbacks
):
    second_result(graded_set(bench), cast.second)
    with django_capture_on_commit_callbacks(execute=True) as queued:
        answer = ines.post(COMPUTE, {"until": "2026-02-01"})
    assert (answer.status_code, answer["Location"], len(queued)) == (302, PAGE, 1)
    report = AgreementReport.objects.get()
    assert (report.second_marks, report.until.isoformat()) == (0, "2026-02-02T00:00:00+00:00")
    with django_capture_on_commit_callbacks(execute=True):
        ines.post(COMPUTE)
    newest = AgreementReport.objects.latest("pk")
    assert newest.second_marks == 1 and newest.until > timezone.now() - timedelta(minutes=1)


def test_a_day_that_cannot_be_read_computes_nothing(ines: Client, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True) as queued:
        answer = ines.post(COMPUTE, {"until": "yesterday"}, follow=True)
    assert "The day cannot be read" in answer.content.decode()
    assert (queued, AgreementReport.objects.count()) == ([], 0)


def test_the_owner_sets_the_rate(cast: Cast, client_for: SignIn):
    owner = client_for(cast.owner)
    assert owner.get(RATE).context["form"].initial == {"one_in": 0}
    assert owner.post(RATE, {"one_in": "101"}).context["form"].errors
    owner.post(RATE, {"one_in": "5"})
    rate = SecondMarkRate.objects.get()
    assert rate.one_in == 5 and len(rate.seed) > 20
    assert "About one signed set in 5" in owner.get(PAGE).content.decode()


def test_those_waiting_are_listed_first(ines: Client, bench: Bench, cast: Cast):
    give_second_mark(graded_set(bench), cast.second)
    text = ines.get(PAGE).content.decode()
    assert "1 waiting" in text and "Tova Lind, chosen" in text


def test_how_strict_each_educator_is_stands_beside_the_warning_and_without_logits(
    ines: Client, bench: Bench, cast: Cast
):
    both = {str(member.pk): Facet(0.5, 0.01, 90) for member in (cast.ines, cast.owner)}
    note = "The educators fall into 2 groups with no student in common."
    made = Parameters("parameters-1", (), (), educators=both, notes=(note,))
    ParameterVersion.objects.create(
        academy=cast.academy,
        number=1,
        parameters=json.loads(made.to_json()),
        sets=9,
        students=3,
        made_at=LATER,
    )
    text = ines.get(PAGE).content.decode()
    assert "How strict each educator is" in text and note in text
    assert "So the marks of every day give no figures here." in text
    assert "logit" not in text and cast.owner.name in text
