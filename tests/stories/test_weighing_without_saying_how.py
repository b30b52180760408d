"""A diff is weighed and nobody says what was on the scale. Diffs, oils and masses are constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import Begin

from bevelbook.cli import asking

Run = Callable[..., Any]
MASSES = ("dry_mass=12.40", "filled_mass=14.26", "closed_mass=22.36", "mass_basis=open half", "scale=bench")


@pytest.fixture
def garage(bevelbook: Run, begin: Begin) -> Run:
    """Two closed diffs of one team, weighed on a scale of 0.01 g."""
    commands: list[tuple[str, ...]] = [
        ("new",),
        ("record", "scale", "name=bench", "step_g=0.01", "repeatability=0.005", "day_to_day=0"),
    ]
    for label, extra in (("rear-a", ()), ("rear-b", ("dry_mass=12.50", "filled_mass=14.36", "closed_mass=22.50"))):
        commands.append(("record", "diff", f"label={label}", "housing_material=aluminium"))
        words = {word.partition("=")[0]: word for word in (*MASSES, *extra)}
        commands.append(("record", "build", f"diff={label}", "built_on=2026-05-03", *words.values()))
    begin(bevelbook, Path("bevelbook.db"), *commands)
    return bevelbook


def test_a_closed_diff_that_lost_oil_is_taken_as_closed_and_the_loss_is_said(garage: Run) -> None:
    done = garage("record", "weighing", "build=rear-a", "weighed_on=2026-05-10", "runs=4", "mass=22.24", "scale=bench")
    assert "mass_basis: closed  (taken as closed: 22.36 g at the build)" in done.out
    assert "rear-a/1: caution: lost 0.12 g of 1.86 g (6 %) in 4 runs" in done.out


def test_where_it_was_taken_from_is_kept_and_a_corrected_reading_is_taken_again(garage: Run) -> None:
    garage("record", "weighing", "build=rear-a", "weighed_on=2026-05-10", "runs=4", "mass=22.24", "scale=bench")
    done = garage("record", "weighing", "rear-a/1#1", "mass=14.22", "--json")
    assert done.json["values"]["mass_basis"] == "open half"
    assert done.json["taken"] == {"mass_basis": "taken as open half: 14.26 g at the build"}


def test_a_basis_that_was_typed_stays(garage: Run) -> None:
    done = garage("record", "weighing", "build=rear-a", "mass=22.24", "runs=4", "mass_basis=closed", "--json")
    assert "mass_basis" not in done.json["taken"]
    changed = garage("record", "weighing", "rear-a/1#1", "mass=14.22", "--json")
    assert (changed.json["values"]["mass_basis"], changed.json["taken"]) == ("closed", {})


def test_a_reading_that_may_be_of_two_masses_is_asked_about(garage: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    garage("record", "build", "rear-a/1", "mass_basis=all parts on the pan", "filled_mass=22.40", "dry_mass=20.54")
    words = ("record", "weighing", "build=rear-a", "runs=4", "mass=22.24", "scale=bench")
    refused = garage(*words)
    assert refused.code == 2
    assert "closed (22.36 g at the build), or all parts on the pan (22.40 g at the build)" in refused.err
    assert 'mass_basis=closed or mass_basis="all parts on the pan"' in refused.err
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr(asking.click, "prompt", lambda *_, **__: "1")
    done = garage(*words, "--json")
    assert done.json["values"]["mass_basis"] == "closed"


def test_a_reading_off_every_known_mass_is_neither_a_loss_nor_a_gain(garage: Run) -> None:
    done = garage("record", "weighing", "build=rear-a", "weighed_on=2026-05-10", "runs=6", "mass=22.66", "--json")
    assert done.code == 0
    assert "mass_basis" not in done.json["values"]
    assert done.json["weighings_say"] == []
    assert any("22.66 g is 0.30 g over closed (22.36 g at the build)" in one for one in done.json["findings"])


def test_two_diffs_over_by_the_same_amount_are_asked_about_and_found_by_check(garage: Run) -> None:
    garage("record", "weighing", "build=rear-a", "weighed_on=2026-05-10", "runs=6", "mass=22.66", "scale=bench")
    words = ("record", "weighing", "build=rear-b", "weighed_on=2026-05-10", "runs=6", "mass=22.80", "scale=bench")
    refused = garage(*words)
    assert refused.code == 2
    assert "both readings are 0.30 g over" in refused.err
    assert "a lid or a tray may be on the scale" in refused.err
    assert garage(*words, "--yes", "--json").json["weighings_say"] == []
    found = garage("check", "--json").out
    assert "weighings_off_alike" in found


def test_two_small_losses_of_the_same_size_are_no_question(garage: Run) -> None:
    for diff, mass in (("rear-a", "22.33"), ("rear-b", "22.47")):
        done = garage("record", "weighing", f"build={diff}", "weighed_on=2026-05-10", "runs=6", f"mass={mass}")
        assert "taken as closed" in done.out


def test_two_diffs_on_the_fourth_basis(garage: Run) -> None:
    basis = "mass_basis=closed with bearings and crown gear"
    garage("record", "weighing", "build=rear-a", "weighed_on=2026-05-10", "runs=0", "mass=41.10", basis)
    done = garage("record", "weighing", "build=rear-a", "weighed_on=2026-05-17", "runs=5", "mass=40.98")
    assert "(taken as closed with bearings and crown gear: 41.10 g on 10 May 2026)" in done.out


@pytest.fixture
def answering(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Have a person at a terminal who gives one answer to every question."""

    def answer(key: str) -> None:
        monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
        monkeypatch.setattr(asking.click, "prompt", lambda *_, **__: key)

    return answer


@pytest.mark.parametrize(("key", "basis"), [("-", None), ("4", "closed with bearings and crown gear")])
def test_on_a_terminal_a_reading_off_every_known_mass_is_asked_about(
    garage: Run, answering: Callable[[str], None], key: str, basis: str | None
) -> None:
    answering(key)
    words = ("record", "weighing", "build=rear-a", "weighed_on=2026-05-10", "runs=6", "mass=41.10", "scale=bench")
    done = garage(*words, "--json")
    assert done.json["values"].get("mass_basis") == basis
    assert "41.10 g is 18.74 g over closed (22.36 g at the build)" in done.err


@pytest.mark.parametrize(("key", "code", "weighed"), [("again", 130, 0), ("keep", 0, 1)])
def test_on_a_terminal_two_diffs_off_alike_are_weighed_again_or_kept(
    garage: Run, answering: Callable[[str], None], key: str, code: int, weighed: int
) -> None:
    garage("record", "weighing", "build=rear-a", "weighed_on=2026-05-10", "runs=6", "mass=22.06", "scale=bench")
    answering(key)
    words = ("record", "weighing", "build=rear-b", "weighed_on=2026-05-10", "runs=6", "mass=22.20", "scale=bench")
    done = garage(*words)
    assert done.code == code
    assert "both readings are 0.30 g under" in done.err.lower()
    assert garage("history", "rear-b/1#1").code == (0 if weighed else 2)


@pytest.fixture
def bare(bevelbook: Run, begin: Begin) -> Run:
    """A diff whose build has a closed mass, and a filled mass of which nobody said what was on the scale."""
    masses = ("dry_mass=11.40", "filled_mass=12.82", "closed_mass=20.52", "scale=bench")
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "scale", "name=bench", "step_g=0.01", "repeatability=0.005", "day_to_day=0"),
        ("record", "diff", "label=front-a", "housing_material=aluminium"),
        ("record", "build", "diff=front-a", "built_on=2026-05-03", *masses),
    )
    return bevelbook


def weigh(run: Run, day: int, runs: int, mass: str) -> Any:
    return run("record", "weighing", "build=front-a", f"weighed_on=2026-05-{day:02d}", f"runs={runs}", f"mass={mass}")


def test_a_reading_over_the_known_mass_is_not_compared_with_the_open_half(bare: Run) -> None:
    done = weigh(bare, 10, 7, "20.94")
    assert "0.42 g over closed" in done.out
    assert "heavier" not in done.out
    assert "compares with nothing yet: say mass_basis=closed" in " ".join(done.out.split())
    assert "heavier" not in bare("check").out
    assert "20.94 g on 2026-05-10 compares with nothing yet" in " ".join(bare("check").out.split())


@pytest.mark.parametrize("stray", ["5.20", "20.94", "41.10"])
def test_a_stray_reading_does_not_outlive_a_good_one(bare: Run, stray: str) -> None:
    weigh(bare, 10, 4, stray)
    assert "front-a/1: ok" in weigh(bare, 17, 8, "20.51").out
    leaking = weigh(bare, 24, 12, "20.22").out
    assert "front-a/1: STOP: lost 0.30 g of 1.42 g" in leaking


def test_two_stray_readings_are_not_compared_with_each_other(bare: Run) -> None:
    weigh(bare, 10, 4, "20.94")
    done = weigh(bare, 17, 8, "20.64").out
    assert "0.12 g over closed" in done
    assert "0.30 g" not in done


def test_what_is_said_later_makes_a_stray_reading_count(bare: Run) -> None:
    weigh(bare, 10, 7, "20.94")
    done = bare("record", "weighing", "front-a/1#1", "mass_basis=closed").out
    assert "front-a/1: unclear: 0.42 g heavier in 7 runs" in done


def test_an_old_weighing_without_a_basis_is_compared_with_a_fill_without_one(bare: Run) -> None:
    """Near the filled mass, as in old notes that never say what was on the scale."""
    bare("record", "build", "front-a/1", "closed_mass=")
    done = weigh(bare, 10, 7, "12.52").out
    assert "front-a/1: STOP: lost 0.30 g of 1.42 g" in done
