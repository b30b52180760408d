"""What was written of a run, in quotation marks, with whether it is what happened or the remark."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from bevelbook.facts.said_nothing import says_nothing
from bevelbook.facts.sql import Row
from bevelbook.web.shared.short_text import short


def remarks(record: Row, longest: int | None = None) -> Iterator[Markup]:
    """``Happened: “...”`` and ``Remark: “...”``, each where it was written; whole, or cut at so many letters.

    >>> [str(one) for one in remarks({"happened": "rolled once", "note": None})]
    ['Happened: “rolled once”']
    >>> list(remarks({"happened": "nothing", "note": None}))
    []
    """
    for words, name in (("Happened", "happened"), ("Remark", "note")):
        text = record[name] if longest is None else short(record[name], longest)
        if text and not (name == "happened" and says_nothing(text)):
            yield Markup("{}: “{}”").format(words, text)


def one_remark(record: Row, longest: int) -> Markup:
    """The remark where a line has room for one only; without a remark what happened, which says so; empty for neither.

    >>> str(one_remark({"happened": None, "note": "planted"}, 20))
    '“planted”'
    """
    if note := short(record["note"], longest):
        return Markup("“{}”").format(note)
    happened = "" if says_nothing(record["happened"]) else short(record["happened"], longest)
    return Markup("Happened: “{}”").format(happened) if happened else Markup("")
