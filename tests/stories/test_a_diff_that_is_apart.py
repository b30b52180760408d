"""A diff that was opened and not built since does not run or get weighed in silence: constructed records."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import click
import pytest
from asked import asked_here
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
OIL = "Oil: the fluid's name, or Enter for as before"
RUN = ("record", "run", "run_on=2026-05-24", "front=front-a", "front_temp=34", "note=planted")
WEIGHED = ("record", "weighing", "build=front-a", "weighed_on=2026-05-24", "mass=11.91", "scale=bench")


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    """A front diff, built on 3 May and opened on 20 May."""
    filled = ("built_on=2026-05-03", "dry_mass=11.9", "oil_mass=1.5", "fluid=house 7k", "mass_basis=open half")
    commands: list[tuple[str, ...]] = [
        ("new",),
        ("record", "scale", "name=bench", "step_g=0.01", "repeatability_g=0.005", "day_to_day=0"),
        *(("record", "fluid", f"label={label}") for label in ("house 7k", "house 10k")),
    ]
    for label in ("front-a", "front-b"):
        commands.append(("record", "diff", f"label={label}", "housing_material=aluminium"))
        commands.append(("record", "build", f"diff={label}", *filled))
    commands.append(("record", "opening", "build=front-a", "opened_on=2026-05-20"))
    begin(bevelbook, Path("bevelbook.db"), *commands)
    return bevelbook


BUILDS = """SELECT b.label, b.built_on, f.label, b.dry_mass_g, b.oil_mass_g FROM builds b
LEFT JOIN fluids f ON f.id = b.fluid JOIN diffs d ON d.id = b.diff WHERE d.label = 'front-a' ORDER BY 1"""


@pytest.fixture
def at_a_terminal(monkeypatch: pytest.MonkeyPatch) -> Callable[[Iterable[str]], list[str]]:
    """Types these answers; gives back the questions."""

    def answering(answers: Iterable[str]) -> list[str]:
        questions: list[str] = []
        waiting = iter(answers)

        def prompt(question: str, **_: object) -> str:
            questions.append(question)
            return next(waiting)

        monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
        monkeypatch.setattr(click, "prompt", prompt)
        return questions

    return answering


def test_a_script_gets_the_commands_that_go_on_and_nothing_is_written(team: Run) -> None:
    done = team(*RUN)
    assert done.code == 2
    assert "front-a was opened on 2026-05-20 and not built since" in done.err
    assert "bevelbook record run run_on=2026-05-24 front=front-a front_temp=34 note=planted --closed-again" in done.err
    assert "not this diff: name another with front=..." in done.err
    assert asked_here("SELECT count(*) FROM runs") == [(0,)]


def test_closed_again_writes_a_build_with_the_oil_as_before_and_the_run_on_it(team: Run) -> None:
    done = team(*RUN, "--closed-again")
    assert done.code == 0
    assert "Added build front-a/2: closed again, its masses are not known" in done.out
    assert "  front: front-a/2, 34 °C" in done.out
    assert asked_here(BUILDS)[1] == ("front-a/2", "2026-05-24", "house 7k", None, None)
    assert len(asked_here("SELECT id FROM entries WHERE asked LIKE '%closed-again'")) == 1
    (entered,) = asked_here("SELECT entered FROM builds WHERE label = 'front-a/2'")[0]
    assert "as before, front-a/1" in str(entered)
    (found,) = [one for one in team("check", "--json").json["diffs"][0]["findings"] if one["code"] == "masses_unknown"]
    assert found["words"].startswith("was closed again by 2026-05-24 without a mass written down")
    assert team("record", "run", "run_on=2026-05-25", "front=front-a").code == 0
    team("record", "build", "front-a/2", "oil_mass=1.48")
    assert "masses_unknown" not in team("check", "--json").out


def test_closed_again_with_another_oil(team: Run) -> None:
    assert team(*RUN, "--closed-again", "--fluid", "house 10k").code == 0
    assert asked_here(BUILDS)[1] == ("front-a/2", "2026-05-24", "house 10k", None, None)


def test_a_weighing_there_is_the_dry_mass_of_the_next_build_if_the_person_says_so(team: Run) -> None:
    done = team(*WEIGHED)
    assert done.code == 2
    for option in ("--closed-again", "--as-dry-mass"):
        assert f"scale=bench {option}" in done.err
    done = team(*WEIGHED, "--as-dry-mass")
    assert done.out.startswith("Added build front-a/2")
    assert asked_here(BUILDS)[1] == ("front-a/2", "2026-05-24", None, 11.91, None)
    assert asked_here("SELECT count(*) FROM weighings") == [(0,)]
    assert asked_here("SELECT mass_basis FROM builds WHERE label = 'front-a/2'") == [("open half",)]


def test_on_the_day_of_the_opening_it_may_have_been_before_it(team: Run) -> None:
    words = ("record", "run", "run_on=2026-05-20", "front=front-a")
    assert "--before-opening" in team(*words).err
    assert "  front: front-a/1" in team(*words, "--before-opening").out
    assert team("record", "run", "run_on=2026-05-20", "front=front-a/1").code == 0
    assert team("record", "run", "run_on=2026-05-19", "front=front-a").code == 0
    assert "--closed-again" in team("record", "run", "run_on=2026-05-21", "front=front-a/1").err


def test_a_diff_without_any_build_is_apart_too(team: Run) -> None:
    team("record", "diff", "label=rear-c", "housing_material=aluminium")
    done = team("record", "run", "run_on=2026-05-24", "rear=rear-c")
    assert "rear-c has no build" in done.err
    assert team("record", "run", "run_on=2026-05-24", "rear=rear-c", "--closed-again").code == 0
    assert asked_here("SELECT label, fluid FROM builds WHERE label = 'rear-c/1'") == [("rear-c/1", None)]


def test_on_a_terminal_it_is_asked_and_nothing_typed_is_lost(
    team: Run, at_a_terminal: Callable[[Iterable[str]], list[str]]
) -> None:
    questions = at_a_terminal(["2", "front-b", "1", ""])
    done = team(*RUN)
    assert done.code == 0
    assert "  front: front-b/1, 34 °C" in done.out
    assert "  note: planted" in done.out
    again = team("record", "run", "run_on=2026-05-24", "front=front-a")
    assert "Added build front-a/2" in again.out
    assert questions == [
        "Which",
        "front: the diff or its build",
        "Which",
        "Oil: the fluid's name, or Enter for as before",
    ]
