"""Stock as people type it: counts in short words, and a kit as its parts in one entry. All constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from typing import Any

from bevelbook.facts.stock import stock_left

Run = Callable[..., Any]


def test_a_kit_that_is_delivered_is_its_parts_in_one_entry(bevelbook: Run) -> None:
    """12 rings and 1 gasket counted; two kits of 4 rings and 1 gasket: 12 + 2 * 4 = 20, and 1 + 2 * 1 = 3."""
    bevelbook("new")
    for label, part in (("rings", "seal"), ("gaskets", "gasket")):
        bevelbook("record", "stock-part", f"label={label}", f"part={part}")
    bevelbook("record", "kit-part", "kit=Rebuild kit", "stock_part=rings", "pieces=4")
    bevelbook("record", "kit-part", "kit=Rebuild kit", "stock_part=gaskets")
    change = ("record", "stock-change")
    assert bevelbook(*change, "stock_part=rings", "counted=12").code == 0
    assert bevelbook(*change, "stock_part=gaskets", "counted=1").code == 0

    unknown = bevelbook(*change, "kit=rebild kit", "delivered=2")
    assert (unknown.code, "Did you mean Rebuild kit?" in unknown.err) == (2, True)
    counted = bevelbook(*change, "kit=rebuild kit", "counted=2")
    assert (counted.code, "a kit is delivered as one" in counted.err) == (2, True)

    delivered = bevelbook(*change, "kit=rebuild kit", "delivered=2", "--json")
    first, *left = delivered.json["findings"]
    assert first == "Rebuild kit, 2 delivered: gaskets 2, rings 8."
    assert [words.partition(" left: ")[0] for words in left] == ["gaskets: 3", "rings: 20"]
    with closing(sqlite3.connect("bevelbook.db")) as book:
        assert [(one.label, one.pieces) for one in stock_left(book)] == [("gaskets", 1 + 2), ("rings", 12 + 8)]
    assert bevelbook("take-back").code == 0
    with closing(sqlite3.connect("bevelbook.db")) as book:
        assert [(one.label, one.pieces) for one in stock_left(book)] == [("gaskets", 1), ("rings", 12)], "one entry"


def test_a_name_is_for_one_part(bevelbook: Run) -> None:
    bevelbook("new")
    bevelbook("record", "stock-part", "label=rings", "part=seal")
    again = bevelbook("record", "stock-part", "label=Rings", "part=seal")
    assert (again.code, 'there is a stock part named "rings" already' in again.err) == (2, True)
