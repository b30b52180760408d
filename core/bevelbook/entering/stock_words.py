"""Stock as people type it: ``counted=12`` for what was done and how many, and a kit that was delivered as its parts."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place, UnknownNameError
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.declare.vocabulary import DELIVERED, STOCK_CHANGES
from bevelbook.facts.kits import kits_of_team
from bevelbook.reading.labels import folded_label
from bevelbook.records import Kind

_SHORT: Final = {what.replace(" ", "_"): what for what in STOCK_CHANGES}
_CHANGE: Final = "stock_change"


class KitDelivered(NamedTuple):
    """The values of each change that a delivery of kits is, one for each part in it; and the delivery in words."""

    changes: tuple[dict[str, Any], ...]
    words: str


def with_stock_words(kind: Kind, words: Sequence[str]) -> list[str]:
    """The words of a change of stock with the short ones written out: ``counted=12`` is ``what=counted pieces=12``.

    >>> from bevelbook.records import BY_NAME
    >>> with_stock_words(BY_NAME["stock_change"], ["stock_part=rings", "taken-out=2"])
    ['stock_part=rings', 'what=taken out', 'pieces=2']
    """
    found: list[str] = []
    for word in words:
        key, equals, text = word.partition("=")
        what = _SHORT.get(key.strip().replace("-", "_"))
        found += [f"what={what}", f"pieces={text}"] if kind.name == _CHANGE and equals and what else [word]
    return found


def is_of_kit(kind: Kind, texts: Mapping[str, str]) -> bool:
    """Whether a new change of stock is a whole kit: the kit is named, and no part."""
    return kind.name == _CHANGE and bool(texts.get("kit", "").strip()) and not texts.get("stock_part", "").strip()


def kit_delivered(connection: sqlite3.Connection, values: Mapping[str, Any]) -> KitDelivered:
    """A delivery of kits, of which the values say how many (one, if not), as the changes of its parts.

    Raises UnknownNameError for a kit that nobody wrote down (near misses named), and InputError where a kit was not
    delivered but counted or taken out.
    """
    what, kits = values.get("what") or DELIVERED, 1 if values.get("pieces") is None else int(values["pieces"])
    if what != DELIVERED:
        raise InputError(
            "a kit is delivered as one, and counted or taken out part by part",
            code="kit_not_delivered",
            place=Place(field="what"),
            found=what,
            remedy=Sentence("Give ", Named("stock_part"), " and leave ", Named("kit"), " out, for one part at a time."),
        )
    every = kits_of_team(connection)
    wanted = folded_label(values["kit"])
    kit = next((one for one in every if folded_label(one.name) == wanted), None)
    if kit is None:
        raise UnknownNameError(
            "kit",
            values["kit"],
            [one.name for one in every],
            by_command="'bevelbook record kit-part kit=NAME stock_part=PART pieces=2' writes down what is in one.",
        )
    changes = tuple(
        {**values, "what": DELIVERED, "kit": kit.name, "stock_part": one.stock_part, "pieces": kits * one.pieces}
        for one in kit.parts
    )
    return KitDelivered(changes, f"{kit.name}, {kits} delivered: {kit.words(kits)}")
