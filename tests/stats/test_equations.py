"""Linear equations in plain arithmetic, against the library numpy."""

from __future__ import annotations

import numpy as np
import pytest

from bevelbook.stats.equations import fitted, solved


def test_equations_are_solved_as_by_the_library() -> None:
    draw = np.random.default_rng(7)
    for count in (1, 2, 5, 9):
        matrix, right = draw.normal(size=(count, count)), draw.normal(size=(count, 2))
        matrix[0, 0] = 0.0 if count > 1 else 1.5
        found = solved(matrix.tolist(), right.T.tolist())
        assert pytest.approx(np.linalg.solve(matrix, right), rel=1e-9, abs=1e-12) == np.array(found).T
    with pytest.raises(ZeroDivisionError):
        solved([[1.0, 2.0], [2.0, 4.0]], [[1.0, 2.0]])


def test_a_fit_is_that_of_the_library_and_none_where_columns_depend() -> None:
    draw = np.random.default_rng(8)
    design, values = np.column_stack((np.ones(12), draw.normal(30.0, 4.0, (12, 2)))), draw.normal(size=12)
    found = fitted(design.T.tolist(), values.tolist())
    assert found is not None
    assert found.coefficients == pytest.approx(np.linalg.lstsq(design, values, rcond=None)[0], rel=1e-9)
    assert np.array(found.inverse) == pytest.approx(np.linalg.inv(design.T @ design), rel=1e-8)
    assert fitted([*design.T.tolist(), (2.0 * design[:, 1] - design[:, 0]).tolist()], values.tolist()) is None
