"""Records that a racer removes with a reason: history keeps them, and what uses them is named first. Constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from asked import asked
from canonical import dumped
from conftest import Begin, Outcome

Run = Callable[..., Outcome]


@pytest.fixture
def driven(say: Run, begin: Begin, db: Path) -> None:
    """A build with two seals and a run."""
    begin(
        say,
        db,
        ("record", "diff", "label=rear-a"),
        ("record", "seal", "label=lid ring"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-01", "dry_mass=12.42", "oil_mass=1.86"),
        ("record", "seal-fitting", "build=rear-a/1", "seal=lid ring", "place=joint"),
        ("record", "seal-fitting", "build=rear-a/1", "seal=lid ring", "place=case-side shaft"),
        ("record", "run", "run_on=2026-05-03", "rear=rear-a", "runs=2"),
    )


@pytest.mark.usefixtures("driven")
def test_a_run_is_removed_with_what_was_where_in_it_and_the_reason_is_kept(say: Run, db: Path) -> None:
    done = say("record", "run", "2026-05-03/1", "--remove", "written twice")
    assert done.out.startswith("Removed run 2026-05-03/1: written twice\n  and with it 1 diff in run\n")
    assert asked(db, "SELECT (SELECT count(*) FROM runs) + (SELECT count(*) FROM run_diffs)") == [(0,)]
    assert asked(db, "SELECT runs FROM build_facts") == [(0.0,)]
    versions = say("history", "run", "2026-05-03/1").out
    assert "removed: written twice" in versions
    assert "added: run on 2026-05-03; runs 2 runs" in versions


@pytest.mark.usefixtures("driven")
def test_a_build_that_a_run_uses_is_not_removed(say: Run, bevelbook: Run, db: Path) -> None:
    before = dumped(db)
    refused = bevelbook("--db", db, "record", "build", "rear-a/1", "--remove", "wrong diff")
    assert refused.code == 2
    assert "build rear-a/1 is used by diff in run 2026-05-03/1 rear" in refused.err
    assert dumped(db) == before
    say("record", "run", "2026-05-03/1", "--remove", "wrong diff")
    done = say("record", "build", "rear-a/1", "--remove", "wrong diff")
    assert "and with it 2 seals fitted" in done.out
    assert asked(db, "SELECT count(*) FROM seal_fittings") == [(0,)]
    assert asked(db, "SELECT word FROM diff_facts") == [("apart",)]


@pytest.mark.usefixtures("driven")
def test_what_was_removed_comes_back_when_the_removal_is_taken_back(say: Run, db: Path) -> None:
    say("record", "run", "2026-05-03/1", "--remove", "wrong diff")
    before = dumped(db)
    say("record", "build", "rear-a/1", "--remove", "wrong diff")
    say("take-back")
    assert dumped(db) == before


@pytest.mark.usefixtures("driven")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["rear-a/1", "--remove", " "], "no reason was given"),
        (["--remove", "why"], "by its name alone"),
        (["rear-a/1", "note=x", "--remove", "why"], "by its name alone"),
        (["rear-a/9", "--remove", "why"], 'there is no build named "rear-a/9"'),
    ],
)
def test_a_removal_needs_a_name_and_a_reason(bevelbook: Run, db: Path, words: list[str], said: str) -> None:
    refused = bevelbook("--db", db, "record", "build", *words)
    assert refused.code == 2
    assert said in refused.err


@pytest.mark.usefixtures("driven")
def test_a_record_with_a_result_that_a_person_kept_is_not_removed(say: Run, bevelbook: Run, db: Path) -> None:
    say("record", "run", "2026-05-03/1", "--remove", "wrong diff")
    say("calc", "fill-target", "--for", "rear-a/1", "--scale-step", "0.01", "--keep")
    refused = bevelbook("--db", db, "record", "build", "rear-a/1", "--remove", "wrong diff")
    assert refused.code == 2
    assert "a result that was kept by entry 8 of ana (calc fill-target" in refused.err
    taken = bevelbook("--db", db, "--by", "ana", "take-back", "3")
    assert "a result kept by entry 8 of ana" in taken.err
    assert "removed 1 result of fill-target" in say("take-back").out
    say("record", "build", "rear-a/1", "--remove", "wrong diff")
