"""What is noted of an opening so far; until the diff is opened, what its steps have kept for that."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from typing import Any, Final

from bevelbook.facts.sql import rows
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench


def opening_of(connection: sqlite3.Connection, opening: str | None) -> Mapping[str, Any]:
    """The columns of an opening (by id) that have a value; none without one."""
    found = rows(connection, "SELECT * FROM openings WHERE id = ?", (opening,))
    return {name: value for name, value in found[0].items() if value is not None} if found else {}


_OF_OPENING: Final = "openings."
_BETWEEN: Final = "; "


def seen_so_far(connection: sqlite3.Connection, job: JobOnBench) -> Mapping[str, Any]:
    """The columns of a job's opening that have a value; before it is opened, as texts, what was seen until then."""
    return opening_of(connection, job.opening) if job.opening is not None else kept_for_opening(job)


def kept_for_opening(job: JobOnBench) -> dict[str, str]:
    """What the steps of a job keep for its opening, by column."""
    parts = (part for noted in job.steps.values() for part in (noted.note or "").split(_BETWEEN))
    kept = (part.removeprefix(_OF_OPENING).partition(": ") for part in parts if part.startswith(_OF_OPENING))
    return {name: text for name, _, text in kept if text}


def note_with_kept(note: str | None, texts: Mapping[str, str]) -> str | None:
    """The note of a step with what it keeps for the opening, in place of what it kept before; None if it is empty."""
    return _joined(
        [*_others(note), *(f"{_OF_OPENING}{name}: {_one_line(text)}" for name, text in texts.items() if text)]
    )


def kept_in_words(note: str | None, is_open: bool) -> str:
    """The note of a step for people; once the diff is opened, what it kept for that is in the opening.

    >>> kept_in_words("openings.leak_place: joint; openings.leak_amount: drops", is_open=False)
    'where it was wet: joint; how wet: drops'
    """
    if is_open or note is None:
        return _joined(_others(note)) or ""
    return _BETWEEN.join(
        _with_words(part.removeprefix(_OF_OPENING)) if part.startswith(_OF_OPENING) else part
        for part in note.split(_BETWEEN)
    )


def _with_words(kept: str) -> str:
    """``leak_place: joint`` with what the field asks for in place of its column."""
    name, _, text = kept.partition(": ")
    kind = BY_NAME["opening"]
    asks = kind.field(name).about if name in kind.columns else name.replace("_", " ")
    return f"{asks[:1].lower()}{asks[1:]}: {text}"


def _others(note: str | None) -> list[str]:
    return [part for part in (note or "").split(_BETWEEN) if part and not part.startswith(_OF_OPENING)]


def _joined(parts: Iterable[str]) -> str | None:
    return _BETWEEN.join(parts) or None


def _one_line(text: str) -> str:
    return " ".join(text.replace(_BETWEEN, ", ").split())
