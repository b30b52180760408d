"""Oil that is not what was meant to go in: what is said at writing, by an import and by a check. All data are
constructed.

What a scale explains is JCGM 100:2008, 5.1.2 and F.2.2.1, worked out here by hand: with steps of d, a repeatability s
and an error of at most a, a mass by difference has u² = d² / 6 + 2 s² + a² / 3, and 2 u is allowed. A scale that was
never checked is taken to repeat to one step. The window of a fill is the team's limit, else 1 % of the oil and not
under a drop of 0.02 g: the team's own figures, as the card of the build has them.
"""

from __future__ import annotations

import shlex
import sqlite3
from collections.abc import Callable
from math import sqrt
from pathlib import Path

import pytest
from conftest import Outcome
from constructed import Add, Team

from bevelbook.facts.fill_off_target import off_target_of
from bevelbook.facts.renew import renew_touched

FILL = ("record", "build", "diff=rear-a", "dry_mass=12.40", "target_oil_mass=1.9")
TOO_LITTLE = "1.50 g of oil went in, and its target is 1.90 g: 0.40 g too little"


def said(done: Outcome) -> str:
    return " ".join(f"{done.out} {done.err}".split())


def explained_g(step_g: float, repeatability_g: float, error_g: float = 0.0) -> float:
    return 2 * sqrt(step_g**2 / 6 + 2 * repeatability_g**2 + error_g**2 / 3)


@pytest.fixture
def garage(bevelbook: Callable[..., Outcome]) -> Callable[..., Outcome]:
    assert bevelbook("new").code == 0
    assert bevelbook("record", "diff", "label=rear-a", "usual_position=rear").code == 0
    return bevelbook


@pytest.mark.parametrize("masses", [("oil_mass=1.5",), ("filled_mass=13.90",)], ids=["given", "by difference"])
def test_it_is_said_at_writing_and_found_by_a_check_until_it_is_corrected(
    garage: Callable[..., Outcome], masses: tuple[str]
) -> None:
    window = (
        "(0.02 g either way is fine, 1 % of the oil but not under 0.02 g, and the scale explains "
        f"{explained_g(0.01, 0.01):.3f} g more)"
    )
    assert f"{TOO_LITTLE} {window}." in said(garage(*FILL, *masses))
    assert TOO_LITTLE not in said(garage("record", "build", "rear-a/1", "hand_feel=smooth"))
    found = said(garage("check"))
    assert f"worth a look: rear-a/1 beside target: {TOO_LITTLE} {window}." in found
    command = "bevelbook record build rear-a/1 target_oil_mass=1.5"
    assert f"'{command}'" in found
    assert "too little" not in said(garage(*shlex.split(command)[1:]))
    assert "beside target" not in said(garage("check", "--past"))


def test_a_build_that_was_followed_is_of_the_past(garage: Callable[..., Outcome]) -> None:
    assert garage(*FILL, "oil_mass=1.5", "built_on=2026-05-01").code == 0
    assert garage(*FILL, "oil_mass=1.9", "built_on=2026-05-02").code == 0
    assert "beside target" not in said(garage("check"))
    assert TOO_LITTLE in said(garage("check", "--past")).partition("About the past")[2]


def test_the_team_s_own_window_is_taken_and_named(garage: Callable[..., Outcome]) -> None:
    assert garage("record", "limit", "kind=fill window", "value=0.5").code == 0
    assert "went in" not in said(garage(*FILL, "oil_mass=1.5"))
    assert "beside target" not in said(garage("check"))
    assert garage("record", "limit", "kind=fill window", "value=0.3", "diff=rear-a").code == 0
    assert f"{TOO_LITTLE} (0.3 g either way is fine, your limit of the fill window," in said(garage("check"))


@pytest.mark.parametrize(("error_g", "sign"), [(0.0, 1), (0.0, -1), (0.03, 1), (0.03, -1)])
def test_what_the_scale_explains_is_not_named(
    connection: sqlite3.Connection, add: Add, error_g: float, sign: int
) -> None:
    target = 3.0
    allowed = 0.01 * target + explained_g(0.01, 0.005, error_g)
    team = Team(add)
    scale = add("scale", name="pocket", step_g=0.01, repeatability_g=0.005, error_bound_g=error_g or None)
    builds = [
        team.build(target_oil_mass_g=target, dry_mass_g=12.4, oil_mass_g=target + sign * oil, scale=scale)
        for oil in (allowed - 1e-6, allowed + 1e-6)
    ]
    renew_touched(connection)
    fine, off = (off_target_of(connection, build) for build in builds)
    assert fine is None
    assert off is not None
    assert (off.window_g, off.uncertainty_g) == pytest.approx((0.03, explained_g(0.01, 0.005, error_g)))


def test_a_top_up_and_a_fill_of_which_one_is_not_known_have_none(connection: sqlite3.Connection, add: Add) -> None:
    team = Team(add)
    builds = [
        team.build(target_oil_mass_g=1.9),
        team.build(target_oil_mass_g=1.9, filled_mass_g=13.9),
        team.build(dry_mass_g=12.4, oil_mass_g=1.5),
        team.build(kind="top-up", target_oil_mass_g=1.9, oil_mass_g=0.1),
    ]
    renew_touched(connection)
    assert [off_target_of(connection, build) for build in builds] == [None] * len(builds)


NOTES = """date;diff;dry mass;oil;total;target oil;kind of build;laps
2026-06-01;rear-a;12.40;1.50;;1.90;;
2026-06-02;rear-a;12.40;1.90;;1.90;;
2026-06-03;rear-a;12.40;;13.90;1.90;;
2026-06-04;rear-a;12.40;;14.30;1.90;;
2026-06-05;rear-a;12.40;1.50;;;;
2026-06-06;rear-a;;0.10;;1.90;top-up;
2026-06-07;rear-a;12.40;1.50;;1.90;;12
"""
"""The notes as they are; without the runs; and without runs and with all oil: read in three ways."""


@pytest.mark.parametrize("columns", [8, 7])
@pytest.mark.parametrize("are_all_weighed", [False, True])
@pytest.mark.parametrize("is_tried", [False, True])
def test_an_import_names_the_lines_and_takes_them(
    garage: Callable[..., Outcome], columns: int, are_all_weighed: bool, is_tried: bool
) -> None:
    lines = [";".join(line.split(";")[:columns]) for line in NOTES.splitlines()]
    kept = [line for line in lines if not (are_all_weighed and ";;13.90" in line)]
    kept = [line for line in kept if not (are_all_weighed and ";;14.30" in line)]
    Path("fills.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    off = [n for n, line in enumerate(kept, 1) if line.startswith(("2026-06-01", "2026-06-03", "2026-06-07"))]
    text = said(garage("import", "fills.csv", *(["--dry-run"] if is_tried else [])))
    assert f"{len(kept) - 1} rows accepted, 0 rejected" in text
    assert text.count("is further from its target than the window of a fill and the scale explain") == 1
    assert f"the difference and the window (lines {', '.join(map(str, off))})" in text
    if not is_tried:
        assert said(garage("check", "--past")).count("went in, and its target is 1.90 g: 0.40 g") == len(off)


def test_an_import_goes_by_scale_and_limit_of_the_book(garage: Callable[..., Outcome]) -> None:
    assert garage("record", "scale", "name=kitchen", "step=0.1").code == 0
    heading = "date;diff;dry mass;oil;target oil;scale\n"
    row = "2026-06-0{};rear-a;12.4;1.7;1.9;{}\n"
    Path("fills.csv").write_text(heading + row.format(1, "kitchen") + row.format(2, ""), encoding="utf-8")
    assert explained_g(0.1, 0.1) > 0.2 > explained_g(0.01, 0.01)
    assert "(line 3)" in said(garage("import", "fills.csv"))
    assert garage("record", "limit", "kind=fill window", "value=0.3").code == 0
    Path("more.csv").write_text(heading + row.format(3, ""), encoding="utf-8")
    assert "its target" not in said(garage("import", "more.csv"))
