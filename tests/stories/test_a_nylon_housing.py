"""A diff with a nylon housing, weighed in a dry room and at a wet track; all constructed."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Begin, Outcome

from bevelbook.reports.mass_chart import last_masses
from bevelbook.store.opened_to_read import open_for_reading

Run = Callable[..., Outcome]
Say = Callable[..., Outcome]


@pytest.fixture
def say(bevelbook: Run, begin: Begin, tmp_path: Path) -> Say:
    path = tmp_path / "team.db"

    def run(*words: str, by: str = "ana") -> Outcome:
        return bevelbook("--db", path, "--by", by, *words)

    begin(
        run,
        path,
        ("new",),
        ("record", "scale", "name=pocket", "step_g=0.01", "repeatability=0.005", "day_to_day=0"),
        ("record", "diff", "label=rear-a", "housing_material=nylon", "housing_mass=6.2g"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-01", "oil_mass=1.5g", "closed_mass=22.35g",
         "sister_mass=4.98g", "scale=pocket"),
    )  # fmt: skip
    return run


def weigh(say: Say, mass: str, *more: str) -> str:
    done = say(
        "record", "weighing", "build=rear-a/1", "weighed_on=2026-05-08", "runs=6", f"mass={mass}", "scale=pocket",
        "mass_basis=closed", *more,
    )  # fmt: skip
    assert done.code == 0
    return " ".join(done.out.split())


def test_without_the_sister_the_words_say_what_water_may_have_done(say: Say) -> None:
    said = weigh(say, "22.30g")
    assert "unclear" in said
    assert "the housing of nylon takes up and gives off water: ± 0.054 g (k = 2) between these days" in said
    assert "weigh an empty sister housing alongside" in said
    assert "takes up and gives off water" in " ".join(say("check").out.split())


def test_with_the_sister_its_water_is_taken_off(say: Say) -> None:
    said = weigh(say, "22.38g", "sister_mass=5.01g")
    assert "rear-a/1: ok: no loss seen in 6 runs" in said
    assert "0.03 g of water by the sister housing, taken off" in said
    assert "0.03 g of water" in say("calc", "leak-trend", "--for", "rear-a/1").out


def test_the_chart_shows_what_is_missing_less_the_water(say: Say, tmp_path: Path) -> None:
    weigh(say, "22.38g", "sister_mass=5.01g")
    with closing(open_for_reading(tmp_path / "team.db")) as connection:
        assert [row["lost_g"] for row in last_masses(connection)] == [0.0, 0.0]


def test_a_diff_without_a_material_is_advised_to_note_it(say: Say) -> None:
    say("record", "diff", "rear-a", "housing_material=")
    assert "material not noted: counted as nylon" in weigh(say, "22.30g")
    say("record", "diff", "rear-a", "housing_material=aluminium")
    assert "water" not in say("check").out


def test_a_heavier_reading_of_a_wet_day_is_taken_as_closed_and_of_a_metal_one_is_asked_about(say: Say) -> None:
    wet = ("record", "weighing", "build=rear-a/1", "weighed_on=2026-05-08", "runs=6", "mass=22.40g", "scale=pocket")
    taken = say(*wet)
    assert taken.code == 0
    assert "mass_basis: closed" in taken.out
    say("take-back")
    say("record", "diff", "rear-a", "housing_material=aluminium")
    assert "mass_basis: closed" not in say(*wet).out


@pytest.mark.parametrize(
    ("mass", "outside"),
    [
        ("49.8g", "44.82 g heavier than the sister housing was on 2026-05-01 (4.98 g), more than water explains"),
        ("0.5g", "4.48 g lighter than the sister housing was"),
        ("22.35g", "17.37 g heavier than the sister housing was"),
    ],
)
def test_a_sister_that_water_cannot_explain_is_asked_about_as_it_is_typed(say: Say, mass: str, outside: str) -> None:
    words = ("record", "weighing", "build=rear-a/1", "weighed_on=2026-05-08", "runs=6", "mass=22.38g", "scale=pocket",
             "mass_basis=closed", f"sister_mass={mass}")  # fmt: skip
    asked = say(*words)
    assert asked.code == 2
    assert outside in " ".join(asked.err.split())
    assert "Nothing was changed" in " ".join(asked.err.split())
    assert say(*words, "--yes").code == 0
    assert weigh(say, "22.38g", "sister_mass=5.40g")


def test_the_first_sister_of_a_diff_is_not_a_whole_diff(say: Say) -> None:
    say("record", "build", "rear-a/1", "sister_mass=")
    whole = say("record", "build", "rear-a/1", "sister_mass=22.30g")
    assert whole.code == 2
    assert "as much as a whole diff weighs (22.35 g): the sister is an empty housing" in " ".join(whole.err.split())


def test_a_weighing_beside_a_sister_is_named_where_it_is_to_be_corrected(say: Say) -> None:
    for runs, mass in ((6, "22.38g"), (12, "22.80g"), (18, "22.38g"), (24, "22.38g")):
        say("record", "weighing", "build=rear-a/1", f"weighed_on=2026-05-{runs + 2:02}", f"runs={runs}",
            f"mass={mass}", "scale=pocket", "mass_basis=closed", "sister_mass=5.01g", "--yes")  # fmt: skip
    checked = " ".join(say("check").out.split())
    assert "22.80 g (2026-05-14, weighing rear-a/1#2)" in checked
