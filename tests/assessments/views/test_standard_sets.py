"""All mark the same findings; nobody sees the others' levels before giving her own."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from academy.models import Membership
from assessments.models import DiscussionNote, StandardMark, StandardSet
from assessments.services.standard_sets import mark_standard_set
from tests.factories.academy import Cast
from tests.factories.assessments import Bench
from tests.factories.bench import graded_set
from tests.factories.second_marks import LATER, give_second_mark, standard_of

SignIn = Callable[[Membership], Client]


@pytest.fixture
def standard(bench: Bench, cast: Cast) -> StandardSet:
    return standard_of(graded_set(bench), cast.owner, why="Look at the bases")


def page(name: str, standard: StandardSet) -> str:
    return reverse(f"assessments:standard-{name}", args=[standard.uid])


def test_a_graded_set_is_offered_from_its_page(bench: Bench, cast: Cast, client_for: SignIn):
    made = graded_set(bench).practice_set
    url = reverse("assessments:standard-choose", args=[made.uid])
    ines = client_for(cast.ines)
    assert url in ines.get(reverse("assessments:set", args=[made.uid])).content.decode()
    answer = ines.post(url, {"why": "Bases"}, follow=True)
    assert answer.templates[0].name == "assessments/standard_mark.html"
    assert StandardSet.objects.get().why == "Bases"


def test_a_set_that_waits_for_its_blind_mark_is_refused_on_the_form(
    bench: Bench, cast: Cast, client_for: SignIn
):
    grade = graded_set(bench)
    give_second_mark(grade, cast.second)
    url = reverse("assessments:standard-choose", args=[grade.practice_set.uid])
    answer = client_for(cast.ines).post(url, {})
    assert "blind second mark" in answer.content.decode() and not StandardSet.objects.exists()


def test_the_levels_of_others_show_only_after_ones_own(standard: StandardSet, cast: Cast, client_for: SignIn):
    mark_standard_set(actor=cast.second, standard=standard, levels={"wrap": 1}, now=LATER)
    ines = client_for(cast.ines)
    before = ines.get(page("set", standard)).content.decode()
    assert "Tova Lind" not in before and "Look at the bases" in before
    after = ines.post(page("set", standard), {"wrap": "4", "product": "3"}, follow=True).content.decode()
    assert "Tova Lind" in after and "most on Wrap and base (3 levels apart)" in after


def test_an_empty_form_is_shown_again_with_the_reason(standard: StandardSet, cast: Cast, client_for: SignIn):
    answer = client_for(cast.ines).post(page("set", standard), {})
    assert answer.status_code == 422 and "at least one criterion" in answer.content.decode()
    assert not StandardMark.objects.exists()


def test_closing_opens_the_levels_to_all(standard: StandardSet, cast: Cast, client_for: SignIn):
    mark_standard_set(actor=cast.second, standard=standard, levels={"wrap": 1}, now=LATER)
    ines = client_for(cast.ines)
    assert "Tova Lind" in ines.post(page("close", standard), follow=True).content.decode()


def test_notes_come_after_ones_own_levels(standard: StandardSet, cast: Cast, client_for: SignIn):
    ines = client_for(cast.ines)
    early = ines.post(page("note", standard), {"text": "Bases."}, follow=True)
    assert "Give your own levels first" in early.content.decode() and not DiscussionNote.objects.exists()
    mark_standard_set(actor=cast.ines, standard=standard, levels={"wrap": 1}, now=LATER)
    assert ines.post(page("note", standard), {"text": " "}).status_code == 422
    assert "Bases." in ines.post(page("note", standard), {"text": "Bases."}, follow=True).content.decode()
