"""The bundled checks, a file per subject; each reads through the reader and yields findings."""

from __future__ import annotations


def listed(names: list[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def nth(number: int) -> str:
    """``1st``, ``2nd``, ``3rd``, ``11th``.

    >>> [nth(number) for number in (1, 2, 3, 4, 11, 22)]
    ['1st', '2nd', '3rd', '4th', '11th', '22nd']
    """
    suffix = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{suffix}"
