"""What changed and why, for the student and for staff."""

from datetime import timedelta

from django.urls import reverse
from django.utils import timezone

from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_graded_set
from tests.factories.second_marks import give_second_mark

DAYS_AGO = timezone.now() - timedelta(days=90)
OWN = reverse("assessments:stand-changes")


def theirs(cast: Cast) -> str:
    return reverse("assessments:student-changes", args=[cast.ada.pk])


def test_both_read_the_same_table_with_its_causes(bench: Bench, cast: Cast, client_for):
    make_graded_set(bench, at=DAYS_AGO)
    make_graded_set(bench, at=DAYS_AGO + timedelta(days=2))
    for member, url in ((cast.ada, OWN), (cast.ines, theirs(cast))):
        page = client_for(member).get(url).content.decode()
        for words in (
            "From the signing of set 1",
            "Parameters",
            "Corrections",
            "Idle days",
        ):
            assert words in page
        assert "state-space-2 defaults-1" in page and "logit" not in page


def test_another_signing_is_chosen_by_its_key_and_nonsense_is_left_out(bench: Bench, client_for):
    make_graded_set(bench, at=DAYS_AGO)
    newest = make_graded_set(bench, at=DAYS_AGO + timedelta(days=2))
    client = client_for(bench.student)
    assert "From the signing of set 2" in client.get(f"{OWN}?since={newest.pk}").content.decode()
    assert client.get(f"{OWN}?since=x").status_code == 200
    assert client.get(f"{OWN}?since={newest.pk + 99}").status_code == 404


def test_without_marks_it_says_what_will_be_here(cast: Cast, client_for):
    assert "Nothing to compare yet" in client_for(cast.ada).get(OWN).content.decode()


def test_who_marks_a_set_blind_reads_no_level_here_either(bench: Bench, cast: Cast, client_for):
    give_second_mark(make_graded_set(bench, at=DAYS_AGO), cast.owner)
    answer = client_for(cast.owner).get(theirs(cast))
    assert answer.status_code == 200
    assert "Parameters" not in answer.content.decode()
