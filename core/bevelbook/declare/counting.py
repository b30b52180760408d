"""Numbers with their nouns, in the singular or the plural."""

from __future__ import annotations


def counted(count: float, noun: str) -> str:
    """A number with its noun, in the plural unless it is one.

    >>> counted(1, "part"), counted(0, "run"), counted(2.5, "run"), counted(12_345, "row")
    ('1 part', '0 runs', '2.5 runs', '12345 rows')
    """
    number = f"{count:g}" if isinstance(count, float) else str(count)
    return f"{number} {plural(count, noun)}"


def plural(count: float, noun: str) -> str:
    """A noun as it follows a number.

    >>> plural(1, "line"), plural(3, "line"), plural(2, "clash"), plural(2, "entry")
    ('line', 'lines', 'clashes', 'entries')
    """
    if count == 1:
        return noun
    if noun.endswith("ry"):
        return f"{noun[:-1]}ies"
    return f"{noun}es" if noun.endswith(("sh", "ch")) else f"{noun}s"
