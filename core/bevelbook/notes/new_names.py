"""The names that an import adds: the oils, venues, events, people, diffs and cars that no row had before, each with the
known names that it may be another spelling of. They are kept apart; whether two are one only a person can say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from bevelbook.declare.counting import plural
from bevelbook.declare.errors import shown
from bevelbook.notes.bulk import Bulk, label_in
from bevelbook.reading.near_names import names_like
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import labels_of

_CALLED: Final = {
    "diff": ("diff", "diffs"),
    "fluid": ("oil", "oils"),
    "bottle": ("bottle", "bottles"),
    "person": ("person", "people"),
    "car": ("car", "cars"),
    "venue": ("venue", "venues"),
    "event": ("event", "events"),
}
_MOST: Final = 8
"""Names of a kind, and questions, that are said."""
_COMPARED: Final = 50
"""So many new names of a kind are compared with the known ones, since each is held against all of them."""


class NewName(NamedTuple):
    """A name that is added: the kind of its record, the line that has it first, and the known names that are like it.

    A bottle is named by its mark alone, which bottles of other oils may have too: none is like it.
    """

    kind: str
    label: str
    line: int
    like: tuple[str, ...] = ()


def new_names(bulk: Bulk) -> tuple[NewName, ...]:
    """What a bulk added, or would add, kind by kind, in the order of the lines."""
    found: list[NewName] = []
    for kind in _CALLED:
        added = sorted((line, label_in(key)) for one, key, line in bulk.new_names if one == kind)
        labels = dict.fromkeys(label for _, label in added)
        if not added or kind == "bottle":
            found += [NewName(kind, label, line) for line, label in added]
            continue
        held = [label for label in labels_of(bulk.connection, BY_NAME[kind]) if label not in labels]
        for number, (line, label) in enumerate(added):
            like = names_like(label, held) if number < _COMPARED else []
            found.append(NewName(kind, label, line, tuple(like)))
    return tuple(found)


def new_name_lines(names: Iterable[NewName]) -> Iterator[str]:
    """What is added by name, a sentence for each kind, and a question for each name that is like a known one."""
    listed = [*names]
    for kind, called in _CALLED.items():
        labels = [one.label for one in listed if one.kind == kind]
        if labels:
            more = f" and {len(labels) - _MOST} more" if len(labels) > _MOST else ""
            yield f"New {called[len(labels) > 1]}: {', '.join(map(_plain, labels[:_MOST]))}{more}."
    asked = [one for one in listed if one.like]
    for one in asked[:_MOST]:
        like = " or ".join(map(shown, one.like[:2]))
        yield (
            f"Is {shown(one.label)} in line {one.line} the {_CALLED[one.kind][0]} {like} that the book has? "
            "Then stop, write it the same way in the file, and bring that in."
        )
    if len(asked) > _MOST:
        left = len(asked) - _MOST
        yield f"{left} more new {plural(left, 'name')} {'is' if left == 1 else 'are'} like one that the book has."


def _plain(name: str) -> str:
    """A name as it stands in a list; in quotes where it could be read as two."""
    return shown(name) if "," in name or shown(name) != f'"{name}"' else name
