"""The question which mark is the decimal one, where a number such as 1,250 has two readings and nothing decides."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from bevelbook.notes.columns import SAMPLES, Evidence, Settled
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.reading.options import ReadingOption

_NAMES: Final = {".": "the point", ",": "the comma"}


def decimal_questions(evidence: Mapping[str, Evidence], settled: Mapping[str, Settled]) -> list[FileQuestion]:
    """One question for all columns in which a number has two readings; none where there is no such number."""
    samples = {
        text: parts
        for name, one in evidence.items()
        if one.field.is_number and settled[name].decimal is None
        for text, parts in one.two_readings.items()
    }
    if not samples:
        return []
    text, parts = next(iter(samples.items()))
    return [
        FileQuestion(
            ReadingOption.DECIMAL_MARK,
            "Which mark is the decimal one in the numbers?",
            tuple(
                PossibleAnswer(mark, f"{_NAMES[mark]}: {text.strip()} is {parts.under(mark):.12g}") for mark in _NAMES
            ),
            samples=tuple(samples)[:SAMPLES],
        )
    ]
