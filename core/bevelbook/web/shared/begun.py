"""A reason as a sentence: it begins with a capital, but a name that a person typed keeps its own letters."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bevelbook.calculating.calculate import Answer, Result


def begun(words: str, names: Iterable[str] = ()) -> str:
    """The words with a capital at their start, unless one of the names is there.

    >>> begun("not decided"), begun("b is faster than a", ("a", "b")), begun("better by 2", ("b",))
    ('Not decided', 'b is faster than a', 'Better by 2')
    """
    if any(name and words.startswith(name) and not words[len(name) :][:1].isalnum() for name in names):
        return words
    return words[:1].upper() + words[1:]


def sentences_begun(result: Result | Answer[Any, Any]) -> tuple[str, ...]:
    """The reasons of a result, each as it begins a sentence; texts among the inputs are names that a person typed."""
    given = result.bound.given
    names = [getattr(given, field.name) for field in result.formula.inputs if field.kind == "text"]
    return tuple(begun(reason, filter(None, names)) for reason in result.judgement.reasons)
