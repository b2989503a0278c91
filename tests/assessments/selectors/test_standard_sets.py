"""A standard set: its evidence, and everybody's levels beside each other."""

import pytest

from academy.errors import NotHere
from assessments.models import StandardSet
from assessments.selectors import standard_sets as find
from assessments.services.standard_sets import mark_standard_set, note_on_standard_set
from tests.factories.academy import Cast
from tests.factories.assessments import Bench
from tests.factories.bench import faulty, graded_set
from tests.factories.second_marks import LATER, standard_of


@pytest.fixture
def standard(bench: Bench, cast: Cast) -> StandardSet:
    return standard_of(graded_set(bench, found={0: faulty("STK")}), cast.owner)


def test_a_foreign_one_is_not_here(standard: StandardSet, cast: Cast):
    assert find.standard_set(cast.academy, standard.uid) == standard
    with pytest.raises(NotHere):
        find.standard_set(cast.other_academy, standard.uid)


def test_the_evidence_tells_faults_measures_and_counts_but_no_level(
    standard: StandardSet, django_assert_num_queries
):
    row = find.standard_set(standard.academy, standard.uid)
    with django_assert_num_queries(4):
        found = find.evidence(row)
    assert [(rate.code, rate.faults, rate.inspected) for rate in found.faults.rates] == [("STK", 1, 40)]
    measures = dict(found.measures)
    assert measures["Fans placed, left and right"] == "80 and 80"
    assert set(measures["Gaps to the lid, mm"].split(", ")) == {"0.75"}
    assert set(measures["Off the local line, degrees"].split(", ")) == {"4"}


def test_clock_and_hygiene_are_not_asked_for(standard: StandardSet):
    codes = [row.code for row in find.criteria_to_mark(standard)]
    assert codes[0] == "isolation" and {"time", "hygiene"}.isdisjoint(codes)


def test_levels_stand_beside_the_signed_ones_with_their_spread(standard: StandardSet, cast: Cast):
    assert not find.has_marked(standard, cast.ines)
    mark_standard_set(actor=cast.ines, standard=standard, levels={"wrap": 1, "product": 3}, now=LATER)
    assert find.has_marked(standard, cast.ines)
    assert "Differences show once a second one has" in find.result(standard).words
    mark_standard_set(actor=cast.second, standard=standard, levels={"wrap": 3, "product": 3}, now=LATER)
    found = find.result(standard)
    assert found.educators == ("Ines Carvalho", "Tova Lind")
    rows = {row.name: row for row in found.rows}
    wrap = rows["Wrap and base"]
    assert ([given.level for given in wrap.given], wrap.signed, wrap.spread) == ([1, 3], 4, 2)
    assert rows["Product fit"].spread == 0 and rows["Isolation"].spread is None
    assert "most on Wrap and base (2 levels apart)" in found.words


def test_the_list_counts_who_has_marked(standard: StandardSet, cast: Cast):
    mark_standard_set(actor=cast.ines, standard=standard, levels={"wrap": 1}, now=LATER)
    (row,) = find.standard_sets(cast.academy)
    assert getattr(row, "marked") == 1  # noqa: B009  # annotated by the selector
    note_on_standard_set(actor=cast.ines, standard=standard, text="Bases.", now=LATER)
    assert [note.author.name for note in find.notes_on_standard_set(standard)] == ["Ines Carvalho"]
