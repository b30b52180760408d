"""Linear equations of a few unknowns, in plain arithmetic: loading a library for them takes longer than they do."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, sqrt, ulp
from typing import NamedTuple

Column = Sequence[float]


def dot(one: Column, other: Column) -> float:
    """The sum of the products of two columns.

    >>> dot([1.0, 2.0], [3.0, 4.0])
    11.0
    """
    return fsum(a * b for a, b in zip(one, other, strict=True))


def solved(matrix: Sequence[Column], right: Sequence[Column]) -> list[list[float]]:
    """The columns x of ``matrix`` x = ``right``, by elimination with the largest element of a column as its pivot.

    matrix  its rows, as many as columns
    right   the columns of the right side
    Raises ZeroDivisionError where the matrix is singular.

    >>> solved([[2.0, 0.0], [1.0, 4.0]], [[2.0, 9.0]])
    [[1.0, 2.0]]
    """
    count = len(matrix)
    rows = [[*row, *(column[place] for column in right)] for place, row in enumerate(matrix)]
    for place in range(count):
        largest = max(range(place, count), key=lambda one: abs(rows[one][place]))
        rows[place], rows[largest] = rows[largest], rows[place]
        pivot = rows[place]
        for below in rows[place + 1 :]:
            if below[place]:
                share = below[place] / pivot[place]
                for one in range(place, len(pivot)):
                    below[one] -= share * pivot[one]
    found = [[0.0] * count for _ in right]
    for number, column in enumerate(found, start=count):
        for place in range(count - 1, -1, -1):
            row = rows[place]
            known = sum(row[one] * column[one] for one in range(place + 1, count))
            column[place] = (row[number] - known) / row[place]
    return found


class Fitted(NamedTuple):
    """Coefficients by least squares, and (X'X)^-1, a row a coefficient."""

    coefficients: tuple[float, ...]
    inverse: tuple[tuple[float, ...], ...]


def fitted(columns: Sequence[Column], values: Column) -> Fitted | None:
    """Least squares of ``values`` on columns, by orthogonal columns (Gram and Schmidt, each taken off twice).

    None where the columns depend on one another.

    >>> found = fitted([[1, 1, 1], [0, 1, 2]], [1.0, 3.0, 5.0])
    >>> [round(one, 9) for one in found.coefficients], round(found.inverse[1][1], 9)
    ([1.0, 2.0], 0.5)
    """
    largest = max(sqrt(dot(one, one)) for one in columns)
    nothing = max(len(values), len(columns)) * ulp(1.0) * largest
    bases: list[list[float]] = []
    upper: list[list[float]] = []
    for column in columns:
        left, parts = [*map(float, column)], [0.0] * len(bases)
        for _ in range(2):
            for place, base in enumerate(bases):
                part = dot(base, left)
                parts[place] += part
                left = [one - part * other for one, other in zip(left, base, strict=True)]
        size = sqrt(dot(left, left))
        if size <= nothing:
            return None
        bases.append([one / size for one in left])
        upper.append([*parts, size])
    count = len(columns)
    triangle = [[upper[column][row] if row <= column else 0.0 for column in range(count)] for row in range(count)]
    unit = [[float(row == column) for row in range(count)] for column in range(count)]
    coefficients, *by_base = solved(triangle, [[dot(base, values) for base in bases], *unit])
    turned = [[column[row] for column in by_base] for row in range(count)]
    return Fitted(tuple(coefficients), tuple(tuple(dot(one, other) for other in turned) for one in turned))
