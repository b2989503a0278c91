"""Opening a set on the page, and the pages of one set: who may see them and where they lead."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from academy.models import Membership, User
from assessments.models import PracticeSet
from tests.factories.academy import Cast, make_member
from tests.factories.assessments import Bench
from tests.factories.bench import (
    event,
    finished_set,
    graded_set,
    happens,
    inspected_set,
    make_bench,
    open_ready_set,
    working_set,
)
from tests.factories.courses import make_head

HOUR = timedelta(hours=1)
SignIn = Callable[[Membership], Client]


@pytest.fixture
def began() -> datetime:
    return timezone.now() - 6 * HOUR


@pytest.fixture
def new() -> str:
    return reverse("assessments:bench-new")


@pytest.fixture
def ines(bench: Bench, client_for: SignIn) -> Client:
    return client_for(bench.educator)


@pytest.fixture
def filled(bench: Bench) -> dict[str, Any]:
    """The form as it is sent on an ordinary day."""
    return {
        "uid": str(uuid4()),
        "student": bench.student.pk,
        "brief": bench.brief.brief_id,
        "head": bench.head.pk,
        "adhesive_lot": "K-2201",
        "adhesive_opened_on": (timezone.now() - timedelta(days=3)).date().isoformat(),
        "adhesive_days": "28",
        "room_c": "21.0",
        "room_rh": "50",
    }


def page(name: str, made: PracticeSet) -> str:
    return reverse(f"assessments:{name}", args=[made.uid])


class TestNewSet:
    def test_an_ordinary_day_leads_straight_to_the_clock(self, ines: Client, new, filled):
        answer = ines.post(new, filled)
        made = PracticeSet.objects.get()
        assert str(made.uid) == filled["uid"]
        assert (answer.status_code, answer["Location"]) == (302, page("bench", made))
        assert ines.get(answer["Location"]).status_code == 200

    def test_the_form_sent_twice_leads_to_the_same_set(self, ines: Client, new, filled):
        first, second = ines.post(new, filled), ines.post(new, filled)
        assert first["Location"] == second["Location"]
        assert PracticeSet.objects.count() == 1

    def test_the_bottle_and_the_room_of_the_last_set_today_are_carried_over(
        self, bench: Bench, ines: Client, new, filled
    ):
        ines.post(new, {**filled, "adhesive_lot": "Q-77", "room_rh": "55"})
        form = ines.get(new).context["form"]
        assert (form["adhesive_lot"].value(), form["room_rh"].value()) == ("Q-77", 55)

    def test_yesterdays_are_not(self, bench: Bench, ines: Client, new, began):
        open_ready_set(bench, at=began - 24 * HOUR)
        form = ines.get(new).context["form"]
        assert (form["adhesive_lot"].value(), form["adhesive_days"].value()) == (None, 28)

    def test_a_head_that_carries_a_set_is_not_offered_and_its_set_is_named(
        self, bench: Bench, cast: Cast, ines: Client, new, began
    ):
        free = make_head(cast.academy, "Head 2")
        finished_set(bench, at=began)
        answer = ines.get(new)
        assert answer.context["form"].fields["head"].choices == [(free.pk, "Head 2")]
        assert "Head 1 carries set 1 of Ada Marsh" in answer.content.decode()

    @pytest.mark.parametrize(
        ("changes", "field", "words"),
        [
            ({"room_rh": "140"}, "room_rh", "140 % RH cannot be. Enter 1 to 100."),
            ({"room_rh": "0"}, "room_rh", "1"),
            ({"room_c": "NaN"}, "room_c", "number"),
            ({"room_c": "60"}, "room_c", "60 °C cannot be. Enter 5 to 45."),
            ({"adhesive_lot": "x" * 80}, "adhesive_lot", "has 80 characters. Enter 40 or fewer"),
            ({"adhesive_days": "0"}, "adhesive_days", "1"),
            ({"adhesive_lot": "   "}, "adhesive_lot", "Fill this in."),
            ({"adhesive_opened_on": "soon"}, "adhesive_opened_on", "date"),
            ({"adhesive_opened_on": "9999-12-31"}, "adhesive_opened_on", "after today"),
            ({"student": ""}, "student", "Choose a student."),
            ({"student": "999999"}, "student", "no longer free. Choose another"),
            ({"head": ""}, "head", "Choose a head."),
            ({"brief": "x"}, "brief", "no longer free"),
        ],
    )
    def test_what_cannot_be_stays_on_the_form_with_a_sentence_and_everything_typed(
        self, ines: Client, new, filled, changes, field, words
    ):
        answer = ines.post(new, {**filled, **changes})
        form = answer.context["form"]
        assert (answer.status_code, list(form.errors)) == (422, [field])
        assert words in form.errors[field][0]
        assert {name: str(form[name].value()) for name in filled} == {
            name: str(value) for name, value in {**filled, **changes}.items()
        }
        assert not PracticeSet.objects.exists()

    def test_an_empty_form_says_what_is_missing(self, ines: Client, new):
        answer = ines.post(new, {})
        assert answer.status_code == 422
        assert {"student", "brief", "head", "adhesive_lot"} <= set(answer.context["form"].errors)

    def test_a_bottle_opened_tomorrow_is_refused_before_anything_is_to_be_confirmed(
        self, ines: Client, new, filled
    ):
        tomorrow = (timezone.now() + timedelta(days=2)).date().isoformat()
        answer = ines.post(new, {**filled, "adhesive_opened_on": tomorrow, "room_rh": "80"})
        assert list(answer.context["form"].errors) == ["adhesive_opened_on"]

    def test_a_damp_room_is_a_warning_that_may_be_confirmed(self, ines: Client, new, filled):
        damp = {**filled, "room_rh": "80"}
        answer = ines.post(new, damp)
        assert answer.status_code == 422 and not answer.context["form"].errors
        assert "Humidity 80 % is above the 40–60 % taught here" in answer.content.decode()
        assert not PracticeSet.objects.exists()
        assert ines.post(new, {**damp, "confirm_warnings": "on"}).status_code == 302
        assert PracticeSet.objects.get().room_rh == 80

    def test_a_student_with_a_set_under_way_is_told_on_her_field(
        self, bench: Bench, cast: Cast, ines: Client, new, filled, began
    ):
        working_set(bench, at=began)
        answer = ines.post(new, {**filled, "head": make_head(cast.academy, "Head 2").pk})
        assert "set 1 is still under way" in answer.context["form"].errors["student"][0]
        assert answer.status_code == 422

    def test_a_student_who_has_left_is_no_longer_offered(self, bench: Bench, ines: Client, new, filled):
        bench.student.left_at = timezone.now()
        bench.student.save(update_fields=["left_at"])
        assert list(ines.post(new, filled).context["form"].errors) == ["student"]

    def test_names_are_shown_as_text_whatever_they_hold(self, bench: Bench, ines: Client, new, filled):
        User.objects.filter(pk=bench.student.user_id).update(name="<script>alert(1)</script>")
        body = ines.post(new, {**filled, "adhesive_lot": '"><img src=x>', "room_rh": "140"}).content.decode()
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in body
        assert "<script>alert" not in body and "<img src=x>" not in body

    def test_a_link_may_choose_the_student_and_nonsense_in_it_is_ignored(
        self, bench: Bench, ines: Client, new
    ):
        assert ines.get(new, {"student": bench.student.pk}).context["form"]["student"].value() == str(
            bench.student.pk
        )
        assert ines.get(new, {"student": "<b>", "head": "-1"}).status_code == 200
        assert ines.head(new).status_code == 200

    def test_the_page_costs_the_same_for_two_students_and_for_twenty(
        self, bench: Bench, cast: Cast, ines: Client, new, django_assert_max_num_queries
    ):
        ines.get(new)
        with django_assert_max_num_queries(100) as few:
            ines.get(new)
        for number in range(20):
            make_member(cast.academy, f"Student {number}")
            make_head(cast.academy, f"Spare {number}")
        working_set(make_bench(cast, head="Taken"))
        with django_assert_max_num_queries(100) as many:
            ines.get(new)
        assert len(few) == len(many)


class TestPagesOfASet:
    def test_each_state_leads_to_the_page_it_is_ready_for(self, bench: Bench, ines: Client, began):
        made = open_ready_set(bench, at=began)
        assert ines.get(page("bench", made)).templates[0].name == "assessments/bench_clock.html"
        happens(bench, made, [event("start", began), event("finish", began + HOUR)], now=began + HOUR)
        assert ines.get(page("bench", made))["Location"] == page("bench-inspect", made)
        assert ines.get(page("bench-inspect", made)).templates[0].name == "assessments/bench_inspect.html"
        happens(bench, made, [event("abandon", began + HOUR, reason="late")], now=began + HOUR)
        assert ines.get(page("bench", made))["Location"] == page("set", made)

    def test_an_inspected_set_leads_to_its_marks_and_a_graded_one_to_its_record(
        self, bench: Bench, cast: Cast, ines: Client, began
    ):
        made = inspected_set(bench, at=began)
        assert ines.get(page("bench", made))["Location"] == page("bench-marks", made)
        graded = graded_set(make_bench(cast, cast.bea, head="Head 2"), at=began).practice_set
        assert ines.get(page("bench", graded))["Location"] == page("set", graded)

    def test_a_set_not_finished_is_sent_back_from_the_inspection_with_a_word(
        self, bench: Bench, ines: Client, began
    ):
        made = working_set(bench, at=began)
        answer = ines.get(page("bench-inspect", made), follow=True)
        assert answer.redirect_chain == [(page("bench", made), 302)]
        assert "not open for inspection" in answer.content.decode()

    def test_the_page_carries_the_set_document_as_data(self, bench: Bench, ines: Client, began):
        User.objects.filter(pk=bench.student.user_id).update(name="</script><script>alert(1)")
        body = ines.get(page("bench", working_set(bench, at=began))).content.decode()
        assert '<script id="set-document" type="application/json">' in body
        assert "</script><script>alert(1)" not in body

    @pytest.mark.parametrize("name", ["bench", "bench-inspect", "bench-marks"])
    def test_students_and_neighbours_are_kept_out(self, bench: Bench, cast: Cast, client_for, began, name):
        made = finished_set(bench, at=began)
        assert client_for(bench.student).get(page(name, made)).status_code == 403
        assert client_for(cast.omar).get(page(name, made)).status_code == 404
        stranger = Client().get(page(name, made))
        assert (stranger.status_code, "login" in stranger["Location"]) == (302, True)

    def test_students_do_not_open_sets(self, bench: Bench, client_for, new, filled):
        client = client_for(bench.student)
        assert client.get(new).status_code == client.post(new, filled).status_code == 403
        assert not PracticeSet.objects.exists()

    def test_a_neighbour_cannot_pick_from_here(self, cast: Cast, client_for, new, filled):
        answer = client_for(cast.omar).post(new, filled)
        assert {"student", "brief", "head"} <= set(answer.context["form"].errors)
        assert not PracticeSet.objects.exists()
