"""What a fact says about itself."""

import pytest

from assessments.scoring.readiness_facts import set_evidence
from tests.assessments.scoring.readiness_facts import a_set


@pytest.mark.parametrize(
    ("changes", "clean"),
    [({}, True), ({"missed": ("waste sorted",)}, False), ({"missed": None}, False), ({"lines": 0}, False)],
)
def test_a_set_is_clean_when_every_line_was_asked_and_signed(changes, clean):
    assert a_set(1, **changes).is_clean is clean


def test_the_evidence_of_a_set_changes_with_the_marks_that_count():
    first, corrected = set_evidence(a_set(1)), set_evidence(a_set(1, grade="201"))
    assert (first.key, first.words) == (corrected.key, corrected.words) == ("uid-1", "Set 1, 1 February 2026")
    assert first.row != corrected.row
