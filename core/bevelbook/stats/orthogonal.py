"""Columns that may depend on one another, taken apart into orthogonal ones, as the Moore-Penrose inverse needs them."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple

from bevelbook.stats.equations import Column, dot

_NOTHING = 1e-11
"""Of what is left of a column, as a share of the largest: less is rounding noise, and the column depends on others."""


class Orthogonal(NamedTuple):
    """Of a matrix X, its rank many columns each: the inverse X^+ is the sum of ``turned`` times ``basis``.

    basis    orthogonal columns of length 1 that span what the columns of X span
    turned   what each of them counts for in the coefficients
    spanned  orthogonal columns of length 1 that span what the rows of X determine
    """

    basis: list[list[float]]
    turned: list[list[float]]
    spanned: list[list[float]]

    def inverse_times(self, values: Column) -> list[float]:
        """X^+ times values: the coefficients of least squares."""
        return combined(self.turned, [dot(one, values) for one in self.basis])

    def fitted_to(self, values: Column) -> list[float]:
        """The part of the values that the columns explain."""
        return combined(self.basis, [dot(one, values) for one in self.basis])


def combined(columns: Sequence[Column], weights: Column) -> list[float]:
    """The sum of columns, each with its weight.

    >>> combined([[1.0, 2.0], [0.0, 1.0]], [2.0, 3.0])
    [2.0, 7.0]
    """
    found = [0.0] * len(columns[0]) if columns else []
    for column, weight in zip(columns, weights, strict=True):
        if weight:
            found = [one + weight * other for one, other in zip(found, column, strict=True)]
    return found


def orthogonal(columns: Sequence[Column]) -> Orthogonal:
    """The columns of X taken apart (Gram and Schmidt with the largest left first, each taken off twice), and so are its
    rows.

    >>> found = orthogonal([[1.0, 1.0, 1.0], [2.0, 2.0, 2.0]])
    >>> len(found.basis), [round(one, 9) for one in found.inverse_times([5.0, 5.0, 5.0])]
    (1, [1.0, 2.0])
    """
    left = [[*map(float, column)] for column in columns]
    sizes = [dot(one, one) for one in left]
    nothing = _NOTHING * sqrt(max(sizes, default=0.0))
    basis: list[list[float]] = []
    rows: list[list[float]] = []
    waiting = set(range(len(left)))
    while waiting:
        largest = max(waiting, key=lambda one: (sizes[one], -one))
        column = left[largest]
        for base, row in zip(basis, rows, strict=True):
            part = dot(base, column)
            row[largest] += part
            column = _less(column, base, part)
        size = sqrt(dot(column, column))
        if size <= nothing:
            break
        waiting.remove(largest)
        base = [one / size for one in column]
        row = [0.0] * len(left)
        row[largest] = size
        for one in waiting:
            row[one] = dot(base, left[one])
            left[one] = _less(left[one], base, row[one])
            sizes[one] = dot(left[one], left[one])
        basis.append(base)
        rows.append(row)
    spanned: list[list[float]] = []
    triangle: list[list[float]] = []
    for row in rows:
        parts, rest = [0.0] * len(spanned), row
        for _ in range(2):
            for place, other in enumerate(spanned):
                part = dot(other, rest)
                parts[place] += part
                rest = _less(rest, other, part)
        size = sqrt(dot(rest, rest))
        spanned.append([value / size for value in rest])
        triangle.append([*parts, size])
    turned: list[list[float]] = [[] for _ in spanned]
    for place in range(len(spanned) - 1, -1, -1):
        column = spanned[place]
        for later in range(place + 1, len(spanned)):
            column = _less(column, turned[later], triangle[later][place])
        turned[place] = [value / triangle[place][place] for value in column]
    return Orthogonal(basis, turned, spanned)


def _less(column: Column, other: Column, part: float) -> list[float]:
    return [one - part * two for one, two in zip(column, other, strict=True)]
