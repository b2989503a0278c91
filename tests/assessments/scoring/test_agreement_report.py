"""What is said about agreement: the right marks reach each figure, and few or unlinked marks say so."""

import krippendorff
import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score

from assessments.scoring.agreement_report import (
    DoubleMarked,
    FirstMarks,
    agreement_findings,
    found_in,
    read_findings,
)

NAMES = {"isolation": "Isolation", "wrap": "Wrap and base"}


def double(sets: int, *, milder: float = 0.0, seed: int = 4, by=("Ines", "Tova")) -> list[DoubleMarked]:
    """``by`` take turns at being first; the second of the pair marks ``milder`` levels higher."""
    rng = np.random.default_rng(seed)
    rows = []
    for number in range(sets):
        true = {code: rng.uniform(0.5, 3.5) for code in NAMES}
        one = {code: _level(true[code] + rng.normal(0, 0.4)) for code in NAMES}
        other = {code: _level(true[code] + milder + rng.normal(0, 0.4)) for code in NAMES}
        swap = number % 2
        rows.append(
            DoubleMarked(
                student=str(number % 6),
                day=float(number),
                first_by=by[swap],
                second_by=by[1 - swap],
                first=other if swap else one,
                second=one if swap else other,
            )
        )
    return rows


def _level(place: float) -> int:
    return int(np.clip(round(place), 0, 4))


def said(rows, firsts=()):
    return agreement_findings(rows, firsts, NAMES, rng=np.random.default_rng(1), draws=200)


def test_each_criterion_has_the_kappa_and_the_alpha_of_its_own_marks():
    # CALC: scikit-learn's cohen_kappa_score and the krippendorff library on the same marks
    rows = double(25)
    for found in said(rows).criteria:
        first = [row.first[found.code] for row in rows]
        second = [row.second[found.code] for row in rows]
        kappa = cohen_kappa_score(first, second, weights="quadratic", labels=range(5))
        table = [[row.first[found.code] if row.first_by == who else row.second[found.code] for row in rows]
                 for who in ("Ines", "Tova")]  # fmt: skip
        alpha = krippendorff.alpha(reliability_data=table, level_of_measurement="ordinal")
        assert found.kappa.value == pytest.approx(kappa, abs=1e-9)
        assert found.alpha.value == pytest.approx(alpha, abs=1e-9)
        assert found.same == pytest.approx(np.mean(np.equal(first, second)))
        assert found.alpha.low < found.alpha.value < found.alpha.high


def test_the_milder_educator_is_found_whoever_marked_first():
    ines, tova = said(double(40, milder=0.8)).educators
    assert (ines.name, tova.name) == ("Ines", "Tova")
    assert tova.severity.low > 0 > ines.severity.high
    # each lies half the gap of .8 levels from their mean; the ends of the scale cost a little
    assert tova.severity.value == pytest.approx(0.4, abs=0.15)
    assert "higher than the average educator" in tova.words


def test_few_sets_are_called_only_indicative():
    found = said(double(4))
    assert all(row.indicative for row in found.criteria)
    assert "Fewer than 10 sets" in found.words
    assert not any(row.indicative for row in said(double(10)).criteria)


def test_a_criterion_that_one_of_the_two_left_out_is_not_compared():
    rows = double(3)
    alone = DoubleMarked("9", 9.0, "Ines", "Tova", {"isolation": 3, "wrap": 2}, {"isolation": 3})
    counts = {row.code: row.sets for row in said([*rows, alone]).criteria}
    assert counts == {"isolation": 4, "wrap": 3}


def test_educators_without_a_shared_set_are_warned_about():
    found = said([*double(6), *double(6, by=("Omar", "Wren"))])
    assert not found.is_linked
    assert "2 groups with no shared sets" in found.design


def test_without_second_marks_there_is_a_sentence_and_no_figure():
    found = said([])
    assert (found.sets, found.criteria, found.educators) == (0, (), ())
    assert "No set has been marked twice yet" in found.words


def test_findings_come_back_from_plain_data_and_another_format_is_computed_again():
    found = said(double(12), [FirstMarks("1", "Ines", {"isolation": 3})])
    kept = found_in(found)
    assert read_findings(kept) == found
    assert read_findings({**kept, "format": 0}) is None


def test_strong_and_weak_students_alone_are_no_halo():
    rng = np.random.default_rng(3)
    firsts = [
        FirstMarks(str(student), who, {code: _level(place + rng.normal(0, 0.7)) for code in NAMES})
        for student, place in enumerate(rng.uniform(0, 4, 12))
        for who in ("Ines", "Tova")
        for _ in range(4)
    ]
    assert all("No sign that a general impression" in row.halo for row in said(double(12), firsts).educators)
