"""Small symmetric systems for many students at once; arrays are (size, size, students)."""

import numpy as np

from assessments.skill.likelihood import Floats


def factorise(system: Floats) -> Floats:
    """L D L' in place: D on the diagonal, unit L below it (G. Golub and C. Van Loan, Matrix Computations,
    4th ed. 2013, section 4.1). `system` must be positive definite. Returns 1 / D, (size, students)."""
    size = len(system)
    inverse = np.empty_like(system[0])
    for j in range(size):
        np.divide(1.0, system[j, j], out=inverse[j])
        if j + 1 < size:
            column = system[j + 1 :, j] * inverse[j]
            system[j + 1 :, j + 1 :] -= column[:, None] * system[j, None, j + 1 :]
            system[j + 1 :, j] = column
    return np.asarray(inverse)


def forward(factor: Floats, right: Floats) -> Floats:
    """L^-1 `right`, in place; (size, ..., students)."""
    for j in range(len(factor) - 1):
        below = factor[j + 1 :, j]
        right[j + 1 :] -= below.reshape(len(below), *[1] * (right.ndim - 2), -1) * right[j]
    return right


def backward(factor: Floats, right: Floats) -> Floats:
    """L'^-1 `right`, in place; (size, students)."""
    for j in range(len(factor) - 1, 0, -1):
        right[:j] -= factor[j, :j] * right[j]
    return right
