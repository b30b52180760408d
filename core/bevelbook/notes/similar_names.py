"""Names that an import adds although one that looks the same is there, said once.

Those that differ only in capitals or blanks are one, and so it is said of them; the others are kept apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bevelbook.notes.bulk import Bulk, label_in
from bevelbook.reading.labels import folded_label
from bevelbook.reading.look_alikes import look_alikes, odd_letters
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import labels_of

_CODE: Final = "similar_names"
_ONE: Final = "one_name"
_MOST: Final = 20


def similar_names(bulk: Bulk) -> list[str]:
    """A warning for each group of names that look like one, of which this import adds at least one.

    Letters of another alphabet and marks that nobody sees are named by their code points: on a screen such names are
    the same. Marks of bottles are short, and often those of bottles of other oils.
    """
    groups: list[list[str]] = []
    for kind_name in dict.fromkeys(kind_name for kind_name, _, _ in bulk.new_names if kind_name != "bottle"):
        named = (*bulk.new_names, *bulk.other_spellings)
        by_line = sorted((line, label_in(key)) for kind, key, line in named if kind == kind_name)
        added = {label_in(key) for kind, key, _ in bulk.new_names if kind == kind_name}
        new = dict.fromkeys(label for _, label in by_line)
        held = [label for label in labels_of(bulk.connection, BY_NAME[kind_name]) if label not in new]
        groups += [group for group in look_alikes((*held, *new)) if not added.isdisjoint(group)]
    more = [f"{_CODE}:and {len(groups) - _MOST} more groups"] if len(groups) > _MOST else []
    return [f"{_code_of(group)}:{'|'.join(map(_with_odd_letters, group))}" for group in groups[:_MOST]] + more


def _code_of(group: Sequence[str]) -> str:
    return _ONE if len(set(map(folded_label, group))) == 1 else _CODE


def _with_odd_letters(name: str) -> str:
    odd = odd_letters(name)
    return f"{name} ({', '.join(odd)})" if odd else name
