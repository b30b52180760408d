"""Four black cases on the bench: the mark on each is beside its name wherever a person looks. Constructed records."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Begin, Outcome

from bevelbook.reports.search import search_records
from bevelbook.store.opened_to_read import open_for_reading

Run = Callable[..., Outcome]
NAMED = "rear-a (two yellow dots)"


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "diff", "label=rear-a", "mark=two yellow dots", "usual_position=rear"),
        ("record", "diff", "label=rear-b"),
    )
    return bevelbook


def test_the_mark_is_printed_beside_the_name(team: Run) -> None:
    built = team("record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=12.42", "oil_mass=1.86")
    assert f"  diff: {NAMED}" in built.out.splitlines()
    run = team("record", "run", "run_on=2026-05-10", "rear=rear-a", "rear_temp=38")
    assert "  rear: rear-a/1 (two yellow dots), 38 °C" in run.out.splitlines()
    assert team("record", "build", "rear-a/1", "note=x", "--json").json["values"]["diff"] == "rear-a"
    assert "diff: rear-b" in team("record", "build", "diff=rear-b", "built_on=2026-05-03").out


def test_the_card_names_the_case_by_its_mark(team: Run) -> None:
    team("record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=12.42", "oil_mass=1.86")
    assert team("card", "rear-a/1").out.startswith(f"rear-a/1  (diff {NAMED})")
    team("card", "rear-a/1", "--html", "card.html")
    assert f"diff {NAMED}" in Path("card.html").read_text(encoding="utf-8")


def test_a_search_for_the_mark_finds_the_diff(team: Run) -> None:
    team("record", "diff", "rear-b", "mark=scratch by the lid")
    connection = open_for_reading(Path("bevelbook.db"))
    found = [(one.kind.name, one.name) for one in search_records(connection, "yellow", 5)]
    scratched = [one.name for one in search_records(connection, "scratch", 5)]
    connection.close()
    assert found == [("diff", NAMED)]
    assert scratched == ["rear-b (scratch by the lid)"]
