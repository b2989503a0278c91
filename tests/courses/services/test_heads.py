"""Heads: added, corrected, given a new strip, retired."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from academy.errors import DomainError
from academy.models import AuditEntry
from assessments.models.sets import HEAD_IN_USE
from courses.models import Head
from courses.selectors.heads import IN_USE
from courses.services.heads import HeadContent, add_head, change_head, fit_new_strip, retire_head
from tests.factories.academy import make_academy, make_member
from tests.factories.assessments import Bench, make_open_set
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric

CONTENT = HeadContent("Head 1", 2, date(2026, 3, 1), "worn inner corner")


def refusal(code, service, **arguments):
    with pytest.raises(DomainError) as caught:
        service(**arguments)
    assert caught.value.code == code
    return caught.value


def test_a_head_is_added_with_what_was_typed_and_told_in_the_records(cast, now):
    head = add_head(academy=cast.academy, content=CONTENT, actor=cast.ines, now=now)
    head.refresh_from_db()
    assert (head.name, head.layers, head.strip_fitted_on, head.note) == (
        "Head 1",
        2,
        date(2026, 3, 1),
        "worn inner corner",
    )
    entry = AuditEntry.objects.get()
    assert (entry.action, entry.actor, entry.after["name"]) == ("add_head", cast.ines, "Head 1")


def test_a_name_is_taken_whatever_its_case_but_only_in_the_same_academy(cast, now):
    make_head(cast.other_academy, "HEAD 1")
    add_head(academy=cast.academy, content=CONTENT, actor=cast.ines, now=now)
    error = refusal(
        "head_name_taken",
        add_head,
        academy=cast.academy,
        content=replace(CONTENT, name="head 1"),
        actor=cast.ines,
        now=now,
    )
    assert error.details["field"] == "name"


def test_a_strip_cannot_have_been_fitted_tomorrow(cast, now):
    content = replace(CONTENT, strip_fitted_on=date(2026, 3, 3))
    refusal(
        "strip_from_the_future", add_head, academy=cast.academy, content=content, actor=cast.ines, now=now
    )
    assert not Head.objects.exists()


def test_the_academys_own_clock_says_which_day_it_is(db):
    # 23:30 UTC on 2 March is 12:30 on 3 March in Auckland (UTC+13 in summer time).
    academy = make_academy(time_zone="Pacific/Auckland")
    actor = make_member(academy, "Ines Carvalho")
    late = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    content = replace(CONTENT, strip_fitted_on=date(2026, 3, 3))
    assert add_head(academy=academy, content=content, actor=actor, now=late).pk


def test_a_correction_keeps_the_head_and_tells_before_and_after(cast, now):
    head = make_head(cast.academy, "Head 1")
    change_head(head=head, content=replace(CONTENT, name="Head One", layers=3), actor=cast.ines, now=now)
    head.refresh_from_db()
    assert (head.name, head.layers) == ("Head One", 3)
    entry = AuditEntry.objects.get(action="change_head")
    assert (entry.before["layers"], entry.after["layers"]) == (2, 3)


def test_a_new_strip_starts_a_new_date_and_cannot_be_older_than_the_one_it_replaces(cast, now):
    head = make_head(cast.academy, strip_fitted_on=date(2026, 2, 1))
    refusal(
        "strip_older_than_before",
        fit_new_strip,
        head=head,
        fitted_on=date(2026, 1, 31),
        actor=cast.ines,
        now=now,
    )
    fit_new_strip(head=head, fitted_on=date(2026, 3, 2), actor=cast.ines, now=now)
    head.refresh_from_db()
    assert head.strip_fitted_on == date(2026, 3, 2)


def test_a_head_that_a_set_holds_is_neither_retired_nor_stripped(cast, now):
    starter_rubric(cast.academy, cast.owner)
    head = make_head(cast.academy)
    make_open_set(Bench(cast.ada, cast.ines, make_brief(cast.academy, cast.ines), head))
    refusal("head_in_use", retire_head, head=head, actor=cast.ines, now=now)
    refusal("head_in_use", fit_new_strip, head=head, fitted_on=now.date(), actor=cast.ines, now=now)


def test_a_retired_head_is_kept_and_changes_no_more(cast, now):
    head = make_head(cast.academy)
    retire_head(head=head, actor=cast.ines, now=now)
    assert Head.objects.get(pk=head.pk).retired_at == now
    refusal("head_retired", change_head, head=head, content=CONTENT, actor=cast.ines, now=now)
    refusal("head_retired", retire_head, head=head, actor=cast.ines, now=now)


def test_the_states_that_hold_a_head_are_those_of_the_database_constraint():
    assert set(IN_USE) == set(HEAD_IN_USE)
