import numpy as np
import pytest

from assessments.skill.elimination import backward, factorise, forward


@pytest.mark.parametrize("size", [1, 2, 5, 14])
def test_systems_are_solved_as_by_lapack(size):
    """Oracle: numpy.linalg.solve, system by system (CALC)."""
    rng = np.random.default_rng(size)
    roots = rng.normal(size=(7, size, size + 2))
    systems, right = roots @ roots.transpose(0, 2, 1), rng.normal(size=(7, size))
    expected = np.linalg.solve(systems, right[:, :, None])[:, :, 0]
    factor = systems.transpose(1, 2, 0).copy()
    inverse = factorise(factor)
    found = backward(factor, forward(factor, right.T.copy()) * inverse)
    assert pytest.approx(expected, rel=1e-8) == found.T
    assert -np.log(inverse).sum(axis=0) == pytest.approx(np.linalg.slogdet(systems)[1])


def test_rows_of_l_inverse_give_the_quadratic_form():
    """A' S^-1 A = sum over rows of w w' / d, by which the filter takes in a set (algebra)."""
    rng = np.random.default_rng(3)
    root, block = rng.normal(size=(3, 3)), rng.normal(size=(3, 4))
    system = root @ root.T
    factor = system[:, :, None].copy()
    inverse = factorise(factor)
    rows = forward(factor, block[:, :, None].copy())
    found = sum(rows[j, :, 0, None] * rows[j, None, :, 0] * inverse[j] for j in range(3))
    assert found == pytest.approx(block.T @ np.linalg.solve(system, block))
