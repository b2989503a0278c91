"""Parts of pages are kept under everything they tell, and made anew when anything differs."""

from unittest.mock import Mock

import pytest
from django.core.cache import caches
from django.utils import timezone
from redis.exceptions import ConnectionError as RedisGone

from academy import parts
from academy.models import Membership
from academy.parts import facts_of, kept_part
from tests.factories.academy import Cast

PART = "components/_status.html"


def drawn(facts: tuple[object, ...], state: str = "ready") -> tuple[str, bool]:
    """The part, and whether it had to be made."""
    gather = Mock(return_value={"state": state})
    return kept_part(PART, facts, gather), gather.called


def test_equal_facts_give_the_same_words_without_gathering_again():
    first, made = drawn((1, "a"))
    assert made and "ready" in first
    assert drawn((1, "a"), "graded") == (first, False)


@pytest.mark.parametrize("other", [(2, "a"), (1, "b"), (1,), ("1", "a"), ((1, "a"),)])
def test_other_facts_give_another_part(other: tuple[object, ...]):
    drawn((1, "a"))
    assert drawn(other)[1]


def test_another_time_zone_gives_another_part():
    drawn((1,))
    with timezone.override("Pacific/Kiritimati"):
        assert drawn((1,))[1]
    assert not drawn((1,))[1]


def test_another_release_gives_another_part(monkeypatch: pytest.MonkeyPatch):
    drawn((1,))
    monkeypatch.setattr(parts, "release", lambda: "another program")
    assert drawn((1,))[1]


def test_the_release_is_told_by_program_and_templates(settings, tmp_path):
    settings.PROGRAM_DIRS = [tmp_path]
    told = []
    for name, text in (("a.py", "1"), ("a.py", "2"), ("a.html", "2"), ("a.md", "2")):
        (tmp_path / name).write_text(text)
        told.append(parts.release.__wrapped__())
    assert len(set(told)) == 3  # a note beside the program changes nothing


def test_what_is_escaped_stays_escaped_and_is_not_escaped_twice():
    for _ in range(2):
        text = kept_part("components/_breadcrumbs.html", (1,), lambda: {"crumbs": [{"label": "<b>"}]})
        assert "&lt;b&gt;" in text and text.__html__() == text


def test_a_cache_that_cannot_be_reached_costs_time_and_no_page(monkeypatch: pytest.MonkeyPatch, caplog):
    gone = Mock(get=Mock(side_effect=RedisGone), set=Mock(side_effect=RedisGone))
    monkeypatch.setattr(parts, "caches", {"parts": gone})
    assert "ready" in drawn((1,))[0]
    assert "made anew" in caplog.text


def test_parts_are_dropped_after_an_hour():
    """Nothing erased may outlive it by more."""
    from academy.settings import CACHES

    assert CACHES["parts"]["TIMEOUT"] == 3600
    assert caches["parts"] is not caches["default"]


@pytest.mark.django_db
def test_facts_of_a_row_hold_its_columns_and_those_selected_with_it(cast: Cast, django_assert_num_queries):
    alone = Membership.objects.get(pk=cast.ada.pk)
    together = Membership.objects.select_related("user").get(pk=cast.ada.pk)
    with django_assert_num_queries(0):
        assert cast.ada.user.name not in facts_of(alone)
        assert any(cast.ada.user.name in fact for fact in facts_of(together) if isinstance(fact, tuple))
    together.user.name = "Somebody else"
    assert facts_of(together) != facts_of(Membership.objects.select_related("user").get(pk=cast.ada.pk))
