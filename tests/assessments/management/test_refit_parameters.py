"""The refit by hand says what it rests on, and what limits it."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_graded_set


def said(**options: int) -> str:
    out = StringIO()
    call_command("refit_parameters", stdout=out, **options)
    return out.getvalue()


def test_it_tells_the_version_its_sets_and_what_cannot_be_told_apart(bench: Bench):
    make_graded_set(bench)
    told = said(academy=bench.academy.pk)
    assert "parameters 1, from 1 sets of 1 students." in told
    assert "Only one educator has marked" in told


def test_all_academies_without_a_choice_and_one_without_sets_says_so(cast: Cast):
    assert said().count("no graded sets yet") == 2


def test_an_unknown_academy_is_refused_with_those_there_are(cast: Cast):
    with pytest.raises(CommandError, match=f"Those here: {cast.academy.pk}"):
        said(academy=cast.academy.pk + 999)
