"""Today, as staff see it."""

from datetime import timedelta

from django.urls import reverse
from django.utils import timezone

from tests.factories.academy import Cast, make_member
from tests.factories.assessments import STARTED, Bench, make_finished_set, make_graded_set, make_started_set
from tests.factories.courses import make_head

TODAY = reverse("assessments:today")


def test_only_staff_of_the_academy_see_its_day(bench: Bench, cast: Cast, client_for):
    make_started_set(bench)
    assert client_for(cast.ada).get(TODAY).status_code == 403
    assert "Ada Marsh" in client_for(cast.ines).get(TODAY).content.decode()
    assert "Ada Marsh" not in client_for(cast.omar).get(TODAY).content.decode()


def test_nobody_signed_in_is_asked_to_sign_in(client, db: None):
    answer = client.get(TODAY)
    assert answer.status_code == 302 and reverse("account_login") in answer.url


def test_an_empty_day_says_what_to_do_next(cast: Cast, client_for):
    page = client_for(cast.ines).get(TODAY).content.decode()
    assert "No heads yet." in page and reverse("courses:head-new") in page
    assert "No set waits for inspection or marks." in page
    assert reverse("assessments:bench-new") in page


def test_every_set_links_to_its_next_step(bench: Bench, cast: Cast, client_for):
    working = make_started_set(bench)
    other = Bench(cast.bea, cast.ines, bench.brief, make_head(cast.academy, "Head 2"))
    finished = make_finished_set(other)
    page = client_for(cast.ines).get(TODAY).content.decode()
    assert reverse("assessments:bench", args=[working.uid]) in page
    assert reverse("assessments:bench-inspect", args=[finished.uid]) in page


def test_times_are_told_where_the_academy_is(bench: Bench, cast: Cast, client_for):
    """09:00 UTC in February is 18:00 in Tokyo, UTC+9 all year (IANA tz database)."""
    cast.academy.time_zone = "Asia/Tokyo"
    cast.academy.save()
    make_started_set(bench)
    assert "started 18:00" in client_for(cast.ines).get(TODAY).content.decode()


def test_the_page_costs_the_same_with_twenty_students(bench: Bench, cast: Cast, client_for, count_queries):
    make_graded_set(bench)
    make_started_set(bench, at=STARTED + timedelta(days=1))
    client = client_for(cast.ines)
    few = count_queries(client, TODAY)
    long_ago = timezone.now() - timedelta(days=100)
    for number in range(20):
        student = make_member(cast.academy, f"Student {number}", joined_at=long_ago)
        head = make_head(cast.academy, f"Head of {number}")
        make_started_set(Bench(student, cast.ines, bench.brief, head), at=STARTED)
    assert count_queries(client, TODAY) == few
