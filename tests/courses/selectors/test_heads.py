from datetime import date, timedelta

import pytest

from academy.errors import NotHere
from courses.selectors.heads import head, heads, is_in_use, strip_age_days
from courses.services.heads import fit_new_strip, retire_head
from tests.factories.assessments import STARTED, Bench, make_graded_set, make_open_set
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric


@pytest.fixture
def bench(cast):
    starter_rubric(cast.academy, cast.owner)
    return Bench(cast.ada, cast.ines, make_brief(cast.academy, cast.ines), make_head(cast.academy))


def counted(bench):
    found = head(bench.academy, bench.head.pk)
    return found.sets_on_strip, found.open_sets


def test_a_set_under_way_holds_the_head_and_a_graded_one_is_counted(bench):
    assert counted(bench) == (0, 0)
    make_graded_set(bench)
    assert counted(bench) == (1, 0)
    make_open_set(bench, at=STARTED + timedelta(days=2))
    assert counted(bench) == (1, 1)
    assert is_in_use(bench.head)


def test_a_new_strip_starts_the_count_again(bench):
    make_graded_set(bench)
    later = STARTED + timedelta(days=3)
    fit_new_strip(head=bench.head, fitted_on=later.date(), actor=bench.educator, now=later)
    assert counted(bench) == (0, 0)


def test_retired_and_foreign_heads_are_not_here(cast, now):
    foreign, gone = make_head(cast.other_academy), make_head(cast.academy)
    retire_head(head=gone, actor=cast.ines, now=now)
    assert list(heads(cast.academy)) == []
    for one in (foreign, gone):
        with pytest.raises(NotHere):
            head(cast.academy, one.pk)


def test_the_age_of_a_strip_counts_days(cast):
    one = make_head(cast.academy, strip_fitted_on=date(2026, 2, 20))
    assert strip_age_days(one, date(2026, 3, 2)) == 10  # February 2026 has 28 days
