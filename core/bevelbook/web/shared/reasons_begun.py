"""Reasons of a result as sentences: each begins with a capital, but a name that a person typed keeps its letters."""

from __future__ import annotations

from typing import Any

from bevelbook.calculating.calculate import Answer, Result
from bevelbook.display.begun import begun


def sentences_begun(result: Result | Answer[Any, Any]) -> tuple[str, ...]:
    """The reasons of a result, each as it begins a sentence; texts among the inputs are names that a person typed."""
    given = result.bound.given
    names = [getattr(given, field.name) for field in result.formula.inputs if field.kind == "text"]
    return tuple(begun(reason, filter(None, names)) for reason in result.judgement.reasons)
