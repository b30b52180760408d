"""Runs as blocks: what is read first, and what is left to the quiet line."""

from __future__ import annotations

import sqlite3
from typing import Any

from constructed import Add, Team
from markupsafe import Markup

from bevelbook.reports import questions
from bevelbook.web.shared.blocks_of_runs import run_blocks
from bevelbook.web.shared.links import Linker


class PlainNames(Linker):
    """Names in place of links."""

    def __init__(self) -> None:
        super().__init__(None, "")

    def record(self, table_name: str, row_id: str | None, label: object) -> Markup | str:
        return str(label)


def _texts(block: Any) -> list[str]:
    return [str(Markup(part).striptags()) for part in (block.head, block.word, *block.lines, block.quiet)]


def test_a_run_is_its_oil_and_call_its_remark_and_its_conditions(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    fluid = add("fluid", label="7,000", viscosity_cst=7000.0, viscosity_source="its label")
    build = team.build(fluid=fluid, oil_mass_g=1.86)
    venue = add("venue", name="Tannery Hall")
    run = add(
        "run",
        label="2026-05-03/1",
        run_on="2026-05-03",
        venue=venue,
        grip="low",
        track_temp_c=24.0,
        runs=3.0,
        best_lap_s=14.2,
        call="keep",
        note="planted",
    )
    add("run_diff", run=run, build=build, position="rear", diff_temp_c=38.0)
    (only,) = run_blocks(PlainNames(), questions.runs_of(connection, "build", build, 9))
    assert _texts(only) == [
        "7,000 cSt, rear",
        "keep",
        "“planted”",
        "not known to be full",
        "low grip, track 24.0 °C, rear 38.0 °C, best lap 14.20 s",
        "2026-05-03, Tannery Hall, rear-a/1, 3 runs",
    ]
    (bare,) = run_blocks(PlainNames(), questions.runs_of(connection, "venue", venue, 9), venue=False, build=False)
    assert _texts(bare)[-1] == "2026-05-03, 3 runs"


def test_two_diffs_of_one_run_are_one_block_and_each_says_its_place(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    rear = team.build()
    front = add("build", label="front-a/1", diff=add("diff", label="front-a"), built_on="2026-02-01")
    run = add("run", label="2026-05-03/1", run_on="2026-05-03", note="<b>loose</b>")
    add("run_diff", run=run, build=rear, position="rear", diff_temp_c=38.0)
    add("run_diff", run=run, build=front, position="front")
    (only,) = run_blocks(PlainNames(), questions.latest_runs(connection, 9))
    assert "front" in only.head
    assert "<br>" in only.head
    assert Markup(only.word).striptags() == "no call"
    assert only.lines == (
        "“&lt;b&gt;loose&lt;/b&gt;”",
        Markup('front: <span class="quiet">not known to be full</span>'),
        Markup('rear: <span class="quiet">not known to be full</span>'),
        "rear 38.0 °C",
    )
