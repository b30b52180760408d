"""What to say of a record that is stored with other words than were given, since a name in it was erased."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from typing import Final

from bevelbook.records import BY_NAME, Kind
from bevelbook.store.entries import number_of_current
from bevelbook.store.erased_names import with_erased_names

_PERSON: Final = BY_NAME["person"]
_BY: Final = "updated_by"


def erased_words(
    connection: sqlite3.Connection, kind: Kind, given: Mapping[str, object], by: str | None
) -> Iterator[str]:
    """A sentence for each value that a record does not keep as it was given; ``by`` is who writes."""
    before = {**given, _BY: by}
    stored = with_erased_names(connection, kind, before)
    for name, value in before.items():
        instead = stored[name]
        if instead == value:
            continue
        if name == _BY:
            yield f"Your name was erased in this book: as who wrote it '{instead}' is stored."
        elif kind is _PERSON and name == kind.label:
            yield (
                f"A person of that name was erased, so '{instead}' is stored instead. Take that back with "
                f"'bevelbook take-back {number_of_current(connection)}'. A new team mate needs another name, without "
                "the erased one in it: "
                "'bevelbook record person name=NICKNAME'."
            )
        else:
            yield f"A name in the {name.replace('_', ' ')} was erased, so it is stored as '{instead}'."
