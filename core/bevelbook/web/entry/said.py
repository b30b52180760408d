"""What is said after a record was stored: what was taken for it, what it means, and what else changed."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from typing import Any, Final, NamedTuple
from weakref import WeakKeyDictionary

from bevelbook.display.begun import begun
from bevelbook.entering.car_set import KINDS as OF_CARS
from bevelbook.entering.car_set import from_when_words
from bevelbook.saving.record import SavedRecord
from bevelbook.saving.removal import RemovedRecord

_STOP: Final = "STOP"
"""Is in a sentence that is said before all others."""
_REMEMBERED: Final = 200
"""Entries whose words are kept until the page that follows asks for them."""


class Said(NamedTuple):
    """What came of an entry: the kind and id of its record, and sentences on it."""

    kind: str
    row_id: str
    lines: tuple[str, ...]


_SAID: Final[WeakKeyDictionary[Any, OrderedDict[str, Said]]] = WeakKeyDictionary()


def remember(datasette: Any, entry: str, said: Said) -> None:
    """Keep the words for the page that follows a form."""
    held = _SAID.setdefault(datasette, OrderedDict())
    held[entry] = said
    while len(held) > _REMEMBERED:
        held.popitem(last=False)


def remembered(datasette: Any, entry: str) -> Said | None:
    """The words of an entry; None where they were not kept, such as after a restart."""
    return _SAID.get(datasette, OrderedDict()).get(entry)


def said_of(saved: Sequence[SavedRecord], first: Sequence[str] = ()) -> Said:
    """What is to be said of the records that a form stored, after what is said ``first``."""
    lines = dict.fromkeys((*first, *(line for one in saved for line in _lines(one))))
    return Said(saved[0].kind.name, saved[0].row_id, tuple(sorted(lines, key=lambda line: _STOP not in line)))


def said_of_removed(removed: RemovedRecord) -> Said:
    """What is to be said of a record that was removed."""
    removal = removed.removal
    parts = removal.parts_in_words()
    lines = [
        *([f"With it went {parts}."] if parts else []),
        *removed.scales,
        *removed.placed.lines(),
        *removed.shelf,
        *removed.upkeep.sentences(),
    ]
    return Said(removal.kind.name, removal.row_id, tuple(lines))


def _lines(saved: SavedRecord) -> Iterator[str]:
    yield from saved.news.lines()
    for label in saved.builds_made:
        yield f"Added build {label}: closed again, its masses are not known."
    taken = [
        f"{saved.kind.field(name).words} {saved.marked.get(name, saved.values[name])} ({reason})"
        for name, reason in saved.taken.items()
        if name in saved.values
    ]
    if taken:
        yield f"Not typed: {', '.join(taken)}."
    if saved.carried:
        sources = dict.fromkeys(saved.carried.values())
        yield f"Carried over from {', '.join(sources)}: {', '.join(_words(saved, saved.carried))}."
    yield from (f"{begun(line)}." for line in saved.lines_of_run)
    yield from (one.words for one in saved.car_changes)
    if saved.kind.name in OF_CARS:
        yield f"{from_when_words(saved.values)}."
    yield from saved.placed.lines()
    yield from saved.findings
    yield from (one.line() for one in saved.upkeep.worked_out if one.new)
    yield from saved.upkeep.waiting_lines()
    yield from saved.upkeep.sentences()


def _words(saved: SavedRecord, names: Any) -> list[str]:
    return [saved.kind.field(name).words for name in names]
