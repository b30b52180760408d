"""``bevelbook plan``: its lines and its data, keeping and comparing, wrong use."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Outcome, WriterWithFacts
from constructed import adding
from planning.teams import TEAMS, TeamToGo, rebuilt_since

from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction

Command = Callable[..., Outcome]


@pytest.fixture
def team(db: Path) -> TeamToGo:
    """The team whose rear diff leaks, in a database of its own."""
    connection = open_for_writing(db)
    with transaction(connection, db, asked="a test", by="ana"):
        made = TEAMS["a build after the plan"](adding(WriterWithFacts(connection, "ana")))
    connection.close()
    return made


def test_a_plan_is_kept_compared_and_taken_back(bevelbook: Command, db: Path, team: TeamToGo) -> None:
    before = bevelbook("--db", db, "plan", team.event, "--against", "last")
    assert before.code == 2
    assert "no plan was kept for" in before.err and f"bevelbook --db {db} plan" in before.err
    kept = bevelbook("--db", db, "--by", "ana", "plan", "Spring Race", "--keep")
    assert kept.code == 0 and "Kept as: plan for spring race made " in kept.err
    assert "  rear: rear-a: rebuild: lost 0.35 g of 1.86 g (19 %)" in kept.out.splitlines()
    assert f'\'bevelbook --db {db} --by ana record event "spring race"' in kept.out.replace("\n  ", " ")
    name = kept.err.partition("Kept as: ")[2].strip().rstrip(".")
    connection = open_for_writing(db)
    with transaction(connection, db, asked="a test", by="ana"):
        rebuilt_since(adding(WriterWithFacts(connection, "ana")), team)
    connection.close()
    since = bevelbook("--db", db, "plan", "spring race", "--against", name, "--json").json
    of_rear = [one["words"] for one in since["since"]["changes"] if one["label"] == "rear-a"]
    assert of_rear[0] == "done: rear-a/2 built on 5 May 2026"
    assert since["work"] == [] and [one["act"] for one in since["cars"][0]["lines"]] == ["leave it", "leave it"]
    text = bevelbook("--db", db, "plan", "spring race", "--against", "last").out
    assert "Since the plan of spring race, kept " in text and "done: rear-a/2 built on 5 May 2026" in text
    assert bevelbook("--db", db, "--by", "ana", "plan", "spring race", "--keep").code == 0
    assert _kept(db) == (2, 4)
    assert bevelbook("--db", db, "--by", "ana", "take-back").code == 0
    assert _kept(db) == (1, 2), "a plan is one entry with its lines"


def _kept(db: Path) -> tuple[int, int]:
    """How many plans and lines of plans are kept."""
    with closing(open_for_reading(db)) as connection:
        sql = "SELECT (SELECT count(*) FROM plans), (SELECT count(*) FROM plan_lines)"
        return tuple(connection.execute(sql).fetchone())  # type: ignore[return-value]


def test_without_an_event_it_prints_what_the_check_opens_with(bevelbook: Command, db: Path, team: TeamToGo) -> None:
    due = bevelbook("--db", db, "plan").out.splitlines()
    assert due[0] == "Before the next time out"
    assert bevelbook("--db", db, "check").out.splitlines()[: len(due)] == due


def test_a_name_that_no_event_or_several_have_is_wrong_use(bevelbook: Command, db: Path, team: TeamToGo) -> None:
    near = bevelbook("--db", db, "plan", "spring rase")
    assert near.code == 2 and "Did you mean spring race?" in near.err.replace("\n", " ")
    assert bevelbook("--db", db, "record", "event", "name=spring race", "first_on=2027-06-12").code == 0
    two = bevelbook("--db", db, "plan", "spring race")
    assert two.code == 2 and "spring race" in two.err


def test_the_teams_own_list_is_read_strictly(bevelbook: Command, db: Path, team: TeamToGo, tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text('title: "Box"\nlists:\n  - title: "Pit box"\n    things: ["towel"]\n', encoding="utf-8")
    said = bevelbook("--db", db, "plan", "spring race", "--packing", own).out
    assert "Pit box\n  [ ] towel" in said and "For this plan\n  [ ] front-a, red front" in said
    own.write_text('title: "Box"\nlists: "towel"\n', encoding="utf-8")
    wrong = bevelbook("--db", db, "plan", "spring race", "--packing", own)
    assert wrong.code == 2 and "own.yaml, line 2" in wrong.err
