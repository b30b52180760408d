"""A diff read twice after a run: the temperature at its end; and what dark oil at its opening means. All invented."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from asked import asked_here
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
TWICE = ("rear_temp=38", "rear_after=2 min", "rear_second_temp=35", "rear_second_after=5 min")
KEPT = "SELECT diff_temp_c, after_run_s, second_diff_temp_c, second_after_run_s FROM run_diffs"


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    """One rear diff, built on 3 May."""
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "diff", "label=rear-a"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-03", "oil_mass=1.86", "viscosity=7000"),
    )
    return bevelbook


def test_two_readings_give_the_end_of_the_run_and_stay_as_they_are(team: Run) -> None:
    """22 + 16 (16/13)^(2/3) = 40.4 and 7000 exp(1757.1 (1/311.15 - 1/298.15)) = 5472.2 by hand."""
    done = team("record", "run", "run_on=2026-05-10", "rear=rear-a", "air_temp=22", *TWICE)
    assert done.code == 0, done.err
    assert "  rear: rear-a/1, 38 °C after 2 min, 35 °C after 5 min\n" in done.out
    assert "rear: 40.4 °C (38.1 to 42.6 °C, 95 %) at the end of the run; what was read stays as it is" in done.out
    assert asked_here(KEPT) == [(38.0, 120.0, 35.0, 300.0)]
    warm = asked_here("SELECT viscosity_at_diff_temperature_cst FROM run_diff_facts")[0][0]
    assert warm == pytest.approx(5472.2, abs=0.1)
    history = " ".join(team("history", "run", "2026-05-10/1").out.split())
    assert "rear rear-a/1, 38.0 °C after 2 min, 35.0 °C after 5 min" in history


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("rear_temp=38", "rear_after=5 min", "rear_second_temp=35", "rear_second_after=2 min"),
            "before the first one",
        ),
        (("rear_temp=38", "rear_after=5 min", "rear_second_temp=35", "rear_second_after=5 min"), "at the time of the"),
        (("rear_second_temp=35", "rear_second_after=5 min"), "there is a second reading but no first one"),
        (("rear_temp=38", "rear_second_after=5 min"), "has a time but no temperature"),
    ],
)
def test_readings_that_cannot_be_are_refused_and_nothing_is_written(
    team: Run, words: tuple[str, ...], said: str
) -> None:
    done = team("record", "run", "run_on=2026-05-10", "rear=rear-a", "air_temp=22", *words)
    assert (done.code, said in done.err) == (2, True), done.err
    assert asked_here("SELECT count(*) FROM runs") == [(0,)]


def test_a_correction_that_turns_the_readings_round_is_refused(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10", "rear=rear-a", "air_temp=22", *TWICE)
    done = team("record", "run", "2026-05-10/1", "rear_after=6 min")
    assert (done.code, "was taken before the first one" in done.err) == (2, True)
    assert asked_here(KEPT) == [(38.0, 120.0, 35.0, 300.0)]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("air_temp=40", *TWICE), "the diff read 38 °C after 2 min, colder than the air at 40 °C: check both"),
        (TWICE, "with the air temperature of the run, the temperature at its end could be worked out"),
        (("air_temp=22", "rear_temp=38", "rear_second_temp=35"), "with the time of both readings after the run"),
        (
            ("air_temp=22", "rear_temp=35", "rear_after=40 s", "rear_second_temp=36", "rear_second_after=5 min"),
            "the second reading is not colder than the first",
        ),
    ],
)
def test_what_the_readings_leave_open_is_said(team: Run, words: tuple[str, ...], said: str) -> None:
    done = team("record", "run", "run_on=2026-05-10", "rear=rear-a", *words)
    assert (done.code, said in " ".join(done.out.split())) == (0, True), done.out


def test_readings_move_with_their_diff_and_are_taken_back(team: Run) -> None:
    team(
        "record",
        "run",
        "run_on=2026-05-10",
        "front=rear-a",
        "air_temp=22",
        *(one.replace("rear", "front") for one in TWICE),
    )
    assert team("record", "run", "2026-05-10/1", "front=", "rear=rear-a").code == 0
    assert asked_here(f"{KEPT} WHERE position = 'rear'") == [(38.0, 120.0, 35.0, 300.0)]
    assert team("take-back").code == 0
    assert asked_here(f"{KEPT} WHERE position = 'front'") == [(38.0, 120.0, 35.0, 300.0)]
    assert asked_here("SELECT count(*) FROM run_diffs") == [(1,)]


def test_readings_come_in_with_notes(team: Run, tmp_path_factory: pytest.TempPathFactory) -> None:
    notes = tmp_path_factory.mktemp("notes") / "notes.csv"
    notes.write_text(
        "date,diff,runs,air_temp_c,diff temp,diff temp after [min],second diff temp,second diff temp after [min]\n"
        "2026-05-10,rear-a,1,22,38,2,35,5\n",
        encoding="utf-8",
    )
    done = team("import", str(notes))
    assert done.code == 0, done.out
    assert asked_here(KEPT) == [(38.0, 120.0, 35.0, 300.0)]


def test_dark_oil_at_an_opening_is_said_not_to_be_thick(team: Run) -> None:
    black = team("record", "opening", "build=rear-a", "opened_on=2026-05-20", "oil=black")
    assert "Dark oil is not thick oil: even 0.05 g of steel in 1.5 g of oil makes it 1 % thicker" in black.out
    team("record", "build", "diff=rear-a", "built_on=2026-05-21", "oil_mass=1.86")
    clear = team("record", "opening", "build=rear-a", "opened_on=2026-05-30", "oil=clear")
    assert (clear.code, "thick oil" in clear.out) == (0, False)


def test_minutes_typed_without_their_unit_are_asked_about(team: Run) -> None:
    done = team("record", "run", "run_on=2026-05-10", "rear=rear-a", "rear_temp=38", "rear_after=2")
    assert "rear: 2 s after the run is soon: if minutes were meant, correct it with the unit, 2 min" in " ".join(
        done.out.split()
    )
    assert "is soon" not in team("record", "run", "2026-05-10/1", "rear_after=2 min").out
