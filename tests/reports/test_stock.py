"""What has to be counted again is one finding, however many parts it is about. All data are constructed."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.plugin.registry import Registry
from bevelbook.reports.check import check
from bevelbook.reports.stock import count_again_findings, is_stock_kept, stock_of_team


def test_parts_and_bottles_to_count_again_are_one_line(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    rings, gaskets, pins = (
        add("stock_part", label=label, part=part, least=2)
        for label, part in (("rings", "seal"), ("gaskets", "gasket"), ("pins", "cross pin"))
    )
    assert not is_stock_kept(connection) and not list(count_again_findings(connection))
    for part in (rings, gaskets, pins):
        add("stock_change", stock_part=part, what="counted", pieces=3, changed_on="2026-01-01")
    assert is_stock_kept(connection) and not list(count_again_findings(connection))
    for part, pieces in ((rings, 5), (gaskets, 4), (pins, 2)):
        add("stock_change", stock_part=part, what="taken out", pieces=pieces, changed_on="2026-01-02")
    bottle = add("bottle", fluid=add("fluid", label="5k"), lot="A", empty_mass_g=10.0)
    add("bottle_check", bottle=bottle, checked_on="2026-01-01", mass_g=11.0)
    team.build(built_on="2026-01-02", bottle=bottle, oil_mass_g=1.9)
    (found,) = check(connection, Registry()).every_of_team
    assert (found.severity, found.code, found.is_past) == ("worth a look", "to_count_again", False)
    assert found.words == (
        "gaskets: 1 more used than there were; rings: 2 more used than there were; "
        "5k, A: builds took 0.9 g more than was in it"
    )
    assert found.remedy.startswith("Count the gaskets and the rings, and put 5k, A on the scale")
    stock = stock_of_team(connection)
    assert [(one.label, one.is_short) for one in stock.parts] == [("gaskets", True), ("pins", True), ("rings", True)]
