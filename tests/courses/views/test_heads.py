from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from courses.models import Head
from tests.factories.assessments import Bench, make_graded_set, make_open_set
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric

TYPED = {"name": "Head 1", "layers": "2", "strip_fitted_on": "2026-01-05", "note": "worn corner"}
ONE = ("courses:head-edit", "courses:head-strip", "courses:head-retire")


def test_the_list_shows_age_count_and_state(cast, client_for):
    starter_rubric(cast.academy, cast.owner)
    brief = make_brief(cast.academy, cast.ines)
    fitted = timezone.now().date() - timedelta(days=3)
    used = make_head(cast.academy, "Head 1", strip_fitted_on=fitted)
    make_head(cast.academy, "Head 2", strip_fitted_on=fitted)
    make_graded_set(Bench(cast.ada, cast.ines, brief, used))
    make_open_set(Bench(cast.bea, cast.ines, brief, used))
    page = client_for(cast.ines).get(reverse("courses:head-list"))
    rows = {head.name: (age, head.sets_on_strip, head.open_sets) for head, age in page.context["rows"]}
    assert rows == {"Head 1": (3, 1, 1), "Head 2": (3, 0, 0)}
    text = page.content.decode()
    assert "in use" in text
    assert "3 days ago" in text


def test_the_list_costs_the_same_with_1_and_20_heads(cast, client_for):
    client = client_for(cast.ines)

    def queries():
        with CaptureQueriesContext(
            connection,
        ) as seen:
            client.get(reverse("courses:head-list"))
        return len(seen)

    make_head(cast.academy, "Head 0")
    client.get(reverse("courses:head-list"))
    with_one = queries()
    for number in range(1, 20):
        make_head(cast.academy, f"Head {number}")
    assert queries() == with_one


def test_without_heads_the_list_says_what_to_do(cast, client_for):
    page = client_for(cast.ines).get(reverse("courses:head-list"))
    assert reverse("courses:head-new") in page.content.decode()
    assert "No heads yet" in page.content.decode()


def test_a_head_is_added_changed_given_a_strip_and_retired(cast, client_for):
    client = client_for(cast.ines)
    assert client.post(reverse("courses:head-new"), TYPED).status_code == 302
    head = Head.objects.get()
    client.post(reverse("courses:head-edit", args=[head.pk]), TYPED | {"layers": "3"})
    client.post(reverse("courses:head-strip", args=[head.pk]), {"strip_fitted_on": "2026-02-01"})
    client.post(reverse("courses:head-retire", args=[head.pk]))
    head.refresh_from_db()
    assert (head.academy, head.layers, head.strip_fitted_on) == (cast.academy, 3, date(2026, 2, 1))
    assert head.retired_at is not None


def test_a_refusal_keeps_everything_typed(cast, client_for):
    tomorrow = (timezone.now() + timedelta(days=2)).date().isoformat()
    page = client_for(cast.ines).post(reverse("courses:head-new"), TYPED | {"strip_fitted_on": tomorrow})
    text = page.content.decode()
    assert "This date is in the future. Enter the day on which the strip was fitted." in text
    assert f'value="{tomorrow}"' in text
    assert "worn corner" in text
    assert not Head.objects.exists()


def test_a_head_in_use_is_not_retired_and_the_page_says_why(cast, client_for):
    starter_rubric(cast.academy, cast.owner)
    head = make_head(cast.academy)
    make_open_set(Bench(cast.ada, cast.ines, make_brief(cast.academy, cast.ines), head))
    page = client_for(cast.ines).post(reverse("courses:head-retire", args=[head.pk]))
    assert "Finish and inspect that set first." in page.content.decode()


@pytest.mark.parametrize("name", ["courses:head-list", "courses:head-new"])
def test_students_do_not_manage_heads(cast, client_for, name):
    assert client_for(cast.ada).get(reverse(name)).status_code == 403


@pytest.mark.parametrize("name", ONE)
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_foreign_head_is_not_here_and_students_are_refused(cast, client_for, name, method):
    url = reverse(name, args=[make_head(cast.academy).pk])
    assert getattr(client_for(cast.omar), method)(url, TYPED).status_code == 404
    assert getattr(client_for(cast.ada), method)(url, TYPED).status_code == 403
    assert Head.objects.get().name == "Head 1"


@pytest.mark.parametrize("name", ONE)
def test_each_page_of_a_head_opens(cast, client_for, name):
    assert client_for(cast.owner).get(reverse(name, args=[make_head(cast.academy).pk])).status_code == 200
