"""Old notes have remarks and no calls: they are gone through in one sitting. All figures constructed."""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Callable, Iterable
from contextlib import closing
from pathlib import Path

import click
import pytest
from conftest import Outcome

Run = Callable[..., Outcome]
Keys = Callable[[Iterable[str]], None]
NOTES = """\
date,diff,fluid,viscosity,dry_mass_g,oil_mass_g,venue,grip,track temp,runs,result_note
2025-05-03,rear-a,oak 7k,7000,12.40,1.86,Mill Hall,high,45,3,felt planted
2025-05-10,rear-a,oak 7k,7000,,,Mill Hall,high,44,2,loose at the exit
2025-06-01,rear-a,oak 10k,10000,12.41,1.86,Quay,high,46,4,
"""


@pytest.fixture
def team(bevelbook: Run, db: Path, tmp_path: Path) -> Run:
    """Three imported runs without a call, and one by hand that has one."""

    def run(*words: object) -> Outcome:
        return bevelbook("--db", db, "--by", "ana", *words)

    (tmp_path / "old.csv").write_text(NOTES, encoding="utf-8")
    assert run("record", "diff", "label=rear-a", "usual_position=rear").code == 0
    assert run("import", "old.csv").code == 0
    words = "run_on=2026-05-03 rear=rear-a best_lap=14.21 call=keep"
    assert run("record", "run", *words.split()).code == 0
    return run


@pytest.fixture
def keys(monkeypatch: pytest.MonkeyPatch) -> Keys:
    """Press these keys on a terminal; a word stands for what is raised there."""

    def press(pressed: Iterable[str]) -> None:
        left = iter(pressed)

        def getchar() -> str:
            key = next(left)
            if key == "Ctrl-C":
                raise KeyboardInterrupt
            if key == "end":
                raise EOFError
            return key

        monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
        monkeypatch.setattr(click, "getchar", getchar)

    return press


def calls(db: Path) -> dict[str, str | None]:
    with closing(sqlite3.connect(db)) as opened:
        return dict(opened.execute("SELECT run_on, call FROM runs ORDER BY run_on").fetchall())


def entries(db: Path) -> int:
    with closing(sqlite3.connect(db)) as opened:
        return int(opened.execute("SELECT count(*) FROM entries").fetchone()[0])


def test_runs_without_a_call_are_listed_newest_day_first_with_their_remark_first(team: Run) -> None:
    done = team("calls")
    lines = done.out.splitlines()
    assert (done.code, lines[0], lines[-1]) == (0, "(no remark)", "3 runs have no call.")
    assert [line for line in lines if line.startswith("“")] == ["“loose at the exit”", "“felt planted”"]
    said = " ".join(done.out.split())
    assert "Mill Hall, high grip, track 45.0 °C, 3 runs; rear-a/1 (rear, its usual place; oak 7k, 7,000 cSt)" in said
    data = team("calls", "--json").json
    assert data["count"] == 3
    assert [one["remark"] for one in data["runs"]] == [None, "loose at the exit", "felt planted"]
    assert [one["day"] for one in team("calls", "--venue", "mill hall", "--json").json["runs"]] == [
        "2025-05-10",
        "2025-05-03",
    ]
    assert team("calls", "--since", "2025-05-10", "--diff", "rear-a", "--json").json["count"] == 2
    assert team("calls", "--diff", "rear-x").code == 2


def test_one_key_decides_each_run_and_all_of_it_is_one_entry(team: Run, keys: Keys, db: Path) -> None:
    before = entries(db)
    keys(["x", "\r", "c", "p", "u", "k"])
    done = team("calls")
    assert done.code == 0
    assert "2 calls written: 1 keep, 1 undecided." in done.out
    assert calls(db) == {"2025-05-03": "keep", "2025-05-10": "undecided", "2025-06-01": None, "2026-05-03": "keep"}
    assert entries(db) == before + 1
    assert team("calls", "--list").out.splitlines()[-1] == "1 run has no call."


@pytest.mark.parametrize(("stop", "code"), [("q", 0), ("Ctrl-C", 130), ("end", 0)])
def test_stopping_on_the_way_loses_nothing_that_was_given(
    team: Run, keys: Keys, db: Path, stop: str, code: int
) -> None:
    keys(["b", stop])
    done = team("calls")
    assert done.code == code
    assert "1 call written: 1 broke." in done.out
    assert calls(db)["2025-06-01"] == "broke"
    keys([stop])
    assert "Nothing was given, nothing is changed." in team("calls").out


def test_a_run_that_somebody_else_decided_meanwhile_keeps_that_call(
    team: Run, db: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def getchar() -> str:
        with closing(sqlite3.connect(db)) as other:
            other.execute("UPDATE runs SET call = 'change' WHERE run_on = '2025-06-01'")
            other.commit()
        pressed.append("k")
        return "k" if len(pressed) == 1 else "q"

    pressed: list[str] = []
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    monkeypatch.setattr(click, "getchar", getchar)
    said = " ".join(team("calls").out.split())
    assert "No call was written. Decided by somebody else in the meantime, and left so:" in said
    assert calls(db)["2025-06-01"] == "change"


def test_in_a_script_calls_are_set_by_name(team: Run, db: Path) -> None:
    names = [one["run"] for one in team("calls", "--json").json["runs"]]
    done = team("calls", "--set", f"{names[0]}=keep", "--set", f"{names[1]}=c")
    assert (done.code, done.out) == (0, "2 calls written: 1 keep, 1 change.\n")
    assert calls(db)["2025-06-01"] == "keep"
    assert team("calls", "--set", f"{names[2]}=nice").code == 2
    assert team("calls", "--set", f"{names[2]}").code == 2
    assert team("calls", "--set", "2031-01-01/1=keep").code == 2
    assert calls(db)["2025-05-03"] is None


def test_two_calls_for_one_run_are_refused(team: Run, db: Path) -> None:
    name = team("calls", "--json").json["runs"][0]["run"]
    done = team("calls", "--set", f"{name}=keep", "--set", f"{name}=change")
    assert done.code == 2
    assert f"two calls for run {name}" in done.err
    assert calls(db)["2025-06-01"] is None


def test_a_day_that_cannot_be_read_is_named_by_its_option(team: Run) -> None:
    done = team("calls", "--since", "nonsense")
    assert done.code == 2
    assert "--since" in done.err
    assert "run_on" not in done.err


def test_a_run_in_which_the_diff_broke_changes_its_word_on_the_shelf(team: Run) -> None:
    done = team("calls", "--set", "2026-05-03/1=broke")
    assert "Shelf: rear-a was 'weigh it', is now 'open it'" in " ".join(done.out.split())
