"""The kinds of record can be found, and are asked for on a terminal. Figures constructed."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest
from conftest import Outcome

from bevelbook.records import KINDS

Run = Callable[..., Outcome]


@pytest.mark.parametrize("words", [("record",), ("record", "--help")])
def test_every_kind_is_listed_with_what_it_needs(bevelbook: Run, words: tuple[str, ...]) -> None:
    done = bevelbook(*words)
    assert done.code == 0
    said = " ".join(done.out.split())
    for kind in KINDS:
        needs = f" Needs {', '.join(field.stem for field in kind.needed)}." if kind.needed else ""
        line = f"{kind.name.replace('_', '-')} {kind.about}.{needs}"
        assert (line in said) == kind.own, line


def test_the_kinds_are_listed_for_programs_too(bevelbook: Run) -> None:
    rows = {row["kind"]: row for row in bevelbook("record", "--json").json}
    assert rows["build-shim"]["needs"] == ["build", "place", "thickness"]
    assert "note-file" not in rows


@pytest.mark.parametrize(
    ("typed", "kind"),
    [
        (("shim",), "build_shim"),
        (("part",), "build_part"),
        (("seal", "fitting"), "seal_fitting"),
        (("seal fitting",), "seal_fitting"),
        (("fitting",), "seal_fitting"),
        (("blend",), "blend_part"),
        (("diff", "in", "run"), "run_diff"),
        (("Seals fitted",), "seal_fitting"),
        (("builds",), "build"),
        (("build", "part"), "build_part"),
        (("seal",), "seal"),
        (("diff",), "diff"),
    ],
)
def test_a_kind_is_known_by_what_people_say(bevelbook: Run, typed: tuple[str, ...], kind: str) -> None:
    fields = [field["name"] for field in bevelbook("record", *typed, "--fields", "--json").json]
    (found,) = [one for one in KINDS if one.name == kind]
    assert fields[: len(found.columns)] == list(found.columns)


def test_what_the_tool_makes_itself_is_not_among_what_is_needed(bevelbook: Run) -> None:
    lines = bevelbook("record", "build", "--fields").out.splitlines()
    assert [line.split()[0] for line in lines if line.endswith("(needed)")] == ["diff"]


@pytest.fixture
def answering(monkeypatch: pytest.MonkeyPatch) -> Callable[[dict[str, str]], list[str]]:
    """A terminal on which questions that begin with a key are answered, and all others with Enter."""

    def answers(by_start: dict[str, str]) -> list[str]:
        asked: list[str] = []

        def prompt(question: str, **_: object) -> str:
            asked.append(question)
            return next((text for start, text in by_start.items() if question.startswith(start)), "")

        monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
        monkeypatch.setattr(click, "prompt", prompt)
        return asked

    return answers


def test_a_run_is_asked_for_what_it_usually_has(
    bevelbook: Run, db: Path, answering: Callable[[dict[str, str]], list[str]]
) -> None:
    for line in ("venue|name=Tannery Hall", "diff|label=rear-a", "build|diff=rear-a|built_on=2026-05-01"):
        assert bevelbook("--db", db, "record", *line.split("|")).code == 0
    asked = answering({"Where": "Tannery Hall", "Diff at the rear": "rear-a", "Best lap": "14.2", "Grip": "high"})
    done = bevelbook("--db", db, "record", "run")
    assert done.code == 0, done.err
    for line in (
        "venue: Tannery Hall",
        "best_lap_s: 14.2",
        "grip: high",
        "run_on: 2026-05-01  (as in your last entry)",
    ):
        assert line in done.out
    assert "rear: rear-a/1" in done.out
    assert len(asked) < 10, "a few"
    asked.clear()
    assert bevelbook("--db", db, "record", "run", "rear=rear-a", "call=keep").code == 0
    assert asked == [], "what was said in the command is enough"
    answering({})
    assert bevelbook("--db", db, "record", "run").code == 2, "nothing was answered"


def test_a_weighing_is_asked_for_its_mass_and_what_was_on_the_scale(
    bevelbook: Run, db: Path, answering: Callable[[dict[str, str]], list[str]]
) -> None:
    for line in ("diff|label=rear-a", "build|diff=rear-a|built_on=2026-05-01|dry_mass=12.40|oil_mass=1.86"):
        assert bevelbook("--db", db, "record", *line.split("|")).code == 0
    answering({"The build": "rear-a", "Reading": "22.35", "What was on the scale": "closed"})
    done = bevelbook("--db", db, "record", "weighing")
    assert done.code == 0, done.err
    assert done.out.startswith("Added weighing rear-a/1#1\n")
    assert "weighed_on: 2026-05-01  (as in your last entry)" in done.out


def test_an_answer_that_cannot_be_read_is_asked_for_again(
    monkeypatch: pytest.MonkeyPatch, bevelbook: Run, db: Path
) -> None:
    tried = []

    def prompt(question: str, value_proc: Callable[[str], str] = str, **_: object) -> str:
        if question.startswith("Best lap"):
            with pytest.raises(click.UsageError, match="not a number"):
                value_proc("fast")
            tried.append(question)
            return value_proc("14.2")
        return ""

    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    monkeypatch.setattr(click, "prompt", prompt)
    assert "best_lap_s: 14.2" in bevelbook("--db", db, "record", "run").out
    assert len(tried) == 1
