"""The many-facet model: facts that follow from its definition, and a separate library on the same marks.

No published data set with results is at hand, so the library comparisons are CALC; one generator serves
both: ability N(0, 1.2), severity sd .5, criteria -1 .. 1, steps -1.8 -.6 .6 1.8.
"""

from warnings import catch_warnings, simplefilter

import numpy as np
import pytest

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.facets import FacetMarks, fit_facets

STEPS = np.array([-1.8, -0.6, 0.6, 1.8])


def levels_of(seed, works=200, severity=None, educators=6, criteria=4):
    """(levels [work, educator, criterion], severities that made them)."""
    rng = np.random.default_rng(seed)
    ability, drawn = rng.normal(0, 1.2, works), rng.normal(0, 0.5, educators)
    severity = drawn - drawn.mean() if severity is None else np.asarray(severity)
    eta = ability[:, None, None] - severity[:, None] - np.linspace(-1, 1, criteria)
    weight = np.exp(eta[..., None] * np.arange(5) - np.concatenate([[0], np.cumsum(STEPS)]))
    reach = np.cumsum(weight / weight.sum(-1, keepdims=True), axis=-1)[..., :-1]
    return (rng.random(eta.shape)[..., None] > reach).sum(-1), severity


def marks_of(levels, keep=None):
    work, educator, criterion = (index.ravel() for index in np.indices(levels.shape))
    rows = np.ones(work.size, bool) if keep is None else keep.ravel()
    names = [f"E{n}" for n in range(levels.shape[1])], [f"C{n}" for n in range(levels.shape[2])]
    return FacetMarks(work[rows], educator[rows], criterion[rows], levels.ravel()[rows], *names)


def test_severities_agree_with_raschpy_and_are_no_farther_from_the_truth():
    # CALC: raschpy 1.4. Six seeds here; the bench runs twenty and prints the table.
    import pandas as pd

    with catch_warnings():
        simplefilter("ignore")
        import raschpy
    ours, theirs = [], []
    for seed in range(6):
        levels, truth = levels_of(seed)
        fit = fit_facets(marks_of(levels))
        index = pd.MultiIndex.from_product([range(6), range(200)], names=["Rater", "Person"])
        frame = pd.DataFrame(levels.transpose(1, 0, 2).reshape(-1, 4), index=index)
        with catch_warnings():
            simplefilter("ignore")
            model = raschpy.MFRM(frame, max_score=4)
            model.calibrate()
        other = model.facet_effects_global.to_numpy()
        other = other - other.mean()
        assert np.abs((fit.severity - other) / np.sqrt(np.diag(fit.severity_cov))).max() < 3
        ours.append(fit.severity - truth)
        theirs.append(other - truth)
    assert np.sqrt(np.mean(np.square(ours))) <= 1.25 * np.sqrt(np.mean(np.square(theirs)))


def test_one_educator_has_severity_zero_and_is_told_why():
    fit = fit_facets(marks_of(levels_of(1, educators=1, severity=[0.0])[0]))
    assert fit.severity.tolist() == [0.0]
    assert fit.status == "one_educator"
    assert fit.words.startswith("Only one educator: severity cannot be separated from skill.")


def test_severities_difficulties_and_steps_each_sum_to_zero():
    fit = fit_facets(marks_of(levels_of(2)[0]))
    for part in (fit.severity, fit.difficulty, fit.steps):
        assert part.sum() == pytest.approx(0, abs=1e-12)


def test_relabelling_educators_permutes_the_answer():
    levels = levels_of(3)[0]
    order = np.array([4, 2, 0, 5, 1, 3])
    one, two = fit_facets(marks_of(levels)), fit_facets(marks_of(levels[:, order]))
    assert two.severity == pytest.approx(one.severity[order], abs=1e-6)
    assert two.infit == pytest.approx(one.infit[order], abs=1e-6)
    assert two.work_mean == pytest.approx(one.work_mean, abs=1e-6)


def test_the_order_of_the_marks_changes_nothing():
    marks = marks_of(levels_of(3)[0])
    mix = np.random.default_rng(1).permutation(marks.level.size)
    mixed = FacetMarks(
        marks.work[mix],
        marks.educator[mix],
        marks.criterion[mix],
        marks.level[mix],
        marks.educators,
        marks.criteria,
    )
    assert fit_facets(mixed).severity == pytest.approx(fit_facets(marks).severity, abs=1e-9)


def test_a_stricter_educator_moves_only_that_educators_estimate():
    # The same random numbers; others shift together by the centring constant, -1/6 of the move.
    severity = np.array([-0.4, -0.1, 0.0, 0.1, 0.2, 0.2])
    moved = severity + np.array([0, 0, 0.8, 0, 0, 0])
    before, after = (
        fit_facets(marks_of(levels_of(4, works=1500, severity=side)[0])).severity
        for side in (severity, moved)
    )
    shift = after - before
    others = np.delete(shift, 2)
    assert np.ptp(others) < 0.02
    assert others.mean() == pytest.approx(-0.8 / 6, abs=0.02)
    assert shift[2] - others.mean() == pytest.approx(0.8, abs=0.06)


def test_sets_difficulties_steps_and_spread_are_found_too():
    fit = fit_facets(marks_of(levels_of(5, works=1500)[0]))
    assert fit.difficulty == pytest.approx(np.linspace(-1, 1, 4), abs=0.06)
    assert fit.steps == pytest.approx(STEPS, abs=0.08)
    assert fit.spread == pytest.approx(1.2, abs=0.08)
    assert fit.infit == pytest.approx(np.ones(6), abs=0.1)


def test_marks_missing_at_random_leave_the_severities_within_their_errors():
    levels, truth = levels_of(6, works=400)
    keep = np.random.default_rng(6).random(levels.shape) < 0.6
    fit = fit_facets(marks_of(levels, keep))
    assert fit.marks == keep.sum()
    assert np.abs((fit.severity - truth) / np.sqrt(np.diag(fit.severity_cov))).max() < 4


def test_perfect_sets_and_single_level_educators_keep_finite_places():
    levels = levels_of(7, works=40)[0]
    levels[:5] = 4
    levels[:, 0] = 4
    fit = fit_facets(marks_of(levels))
    for part in (fit.severity, fit.work_mean, fit.work_sd, fit.steps, fit.infit, fit.outfit):
        assert np.isfinite(part).all()
    assert fit.severity.argmin() == 0
    alike = fit_facets(marks_of(np.full((20, 3, 2), 3)))
    assert alike.severity == pytest.approx(np.zeros(3), abs=1e-6)


def test_an_unused_criterion_or_educator_stays_at_the_average_with_a_wide_error():
    levels = levels_of(8)[0]
    keep = np.ones(levels.shape, bool)
    keep[:, :, 3] = False
    keep[:, 5] = False
    fit = fit_facets(marks_of(levels, keep))
    errors = np.sqrt(np.diag(fit.severity_cov))
    assert errors[5] > 5 * errors[0]
    assert fit.severity[:5] == pytest.approx(fit_facets(marks_of(levels[:, :5, :3])).severity, abs=0.01)
    assert fit.marks_by_educator[5] == 0
    assert (fit.infit[5], fit.outfit[5]) == (1.0, 1.0)


def test_educators_without_shared_sets_are_named_as_groups():
    levels = levels_of(9, works=60)[0]
    keep = np.zeros(levels.shape, bool)
    keep[:30, :3] = True
    keep[30:, 3:] = True
    fit = fit_facets(marks_of(levels, keep))
    assert fit.status == "unlinked"
    assert fit.words.startswith("Educators fall into 2 groups with no shared sets;")
    assert fit.group.tolist() == [0, 0, 0, 1, 1, 1]
    keep[30:, 2] = True
    assert fit_facets(marks_of(levels, keep)).status == "ok"


def test_an_educator_who_marks_at_random_scatters_too_much():
    levels = levels_of(10)[0]
    levels[:, 1] = np.random.default_rng(1).integers(0, 5, levels[:, 1].shape)
    fit = fit_facets(marks_of(levels))
    assert fit.infit[1] > 1.5
    assert (np.delete(fit.infit, 1) < 1.3).all()


def test_no_marks_are_an_answer():
    none = np.zeros(0, np.int64)
    fit = fit_facets(FacetMarks(none, none, none, none, ["Ines", "Omar"], ["isolation"]))
    assert (fit.status, fit.marks) == ("no_data", 0)
    assert fit.severity.tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("column", "value", "code"),
    [
        (0, -1, "unknown_set"),
        (1, 2, "unknown_educator"),
        (2, 1, "unknown_criterion"),
        (3, 5, "level_out_of_range"),
    ],
)
def test_marks_that_cannot_be_are_refused_with_a_sentence(column, value, code):
    rows = [np.array([0, 0]), np.array([0, 1]), np.array([0, 0]), np.array([3, 2])]
    rows[column][0] = value
    with pytest.raises(ScoringInputError) as caught:
        FacetMarks(*rows, ["Ines", "Omar"], ["isolation"])
    assert caught.value.code == code
    with pytest.raises(ScoringInputError, match="twice"):
        fit_facets(
            FacetMarks(
                np.array([0, 0]), np.array([1, 1]), np.array([0, 0]), np.array([2, 2]), ["I", "O"], ["i"]
            )
        )
    with pytest.raises(ScoringInputError, match="Every mark needs"):
        FacetMarks(np.zeros(2, int), np.zeros(1, int), np.zeros(2, int), np.zeros(2, int), ["I"], ["i"])
