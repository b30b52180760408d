"""What is worked out once while a report is made, and again each time outside of one."""

from __future__ import annotations

import sqlite3
from contextlib import closing

from bevelbook.facts.once import kept_meanwhile, once, worked_out_once


def test_a_report_asks_once_and_whoever_makes_none_each_time() -> None:
    asked: list[sqlite3.Connection] = []

    @once
    def counted(connection: sqlite3.Connection) -> int:
        asked.append(connection)
        return len(asked)

    with closing(sqlite3.connect(":memory:")) as here, closing(sqlite3.connect(":memory:")) as other:
        assert (counted(here), counted(here)) == (1, 2)
        with worked_out_once(here):
            assert (counted(here), counted(here)) == (3, 3)
            with worked_out_once(here):
                assert counted(here) == 3
            assert (counted(other), counted(other)) == (4, 5)
            kept_meanwhile(here, "more")["a"] = 1
            assert kept_meanwhile(here, "more") == {"a": 1}
            with worked_out_once(other):
                assert (counted(other), counted(other)) == (6, 6)
            assert counted(here) == 3
        assert counted(here) == 7
        assert kept_meanwhile(here, "more") == {}
