"""Laps as timing screens and spreadsheets show them, the same wherever one is typed. Figures constructed.

Sources: a minute is 60 s, an hour 60 minutes (The International System of Units, 9th edition, table 8). A time of a
sheet is a fraction of a day (ISO/IEC 29500-1, 18.17.4, Dates and Times).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time, timedelta
from pathlib import Path

import openpyxl
import pytest
from conftest import Outcome

from bevelbook.declare.fields import Field, field_of, listing, quantity, record
from bevelbook.formulas.timed_runs import TimedRun
from bevelbook.reading import BY_HAND, Options, ReadingError, read, read_listing_item, read_measured
from bevelbook.reading.laps import laps_in, takes_minutes
from bevelbook.records.track import Run as TrackRun
from bevelbook.records.track import RunDiff

Command = Callable[..., Outcome]
BEST = field_of(TrackRun, "best_lap_s")
LAPS = field_of(TrackRun, "lap_times")


@record
class Timed:
    at_most_s: float = quantity("s", "A lap with a bound alone", minimum=0, maximum=600)
    below_s: float = quantity("s", "Another", below=600)
    wait_s: float = quantity("s", "A wait", minimum=0)
    long_s: float = quantity("s", "A wait with a range", plausible=(0, 7200))
    mass_g: float = quantity("g", "A mass", maximum=9)
    runs: tuple[TimedRun, ...] = listing(TimedRun, "Runs", singular="run")


def timed(name: str) -> Field:
    return field_of(Timed, name)


def refused(field: Field, typed: str) -> ReadingError:
    with pytest.raises(ReadingError) as caught:
        read(field, typed, BY_HAND)
    return caught.value


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [
        ("1:14.9 s", 74.9),
        ("1:14,9 s", 74.9),
        ("1:14.9sec", 74.9),
        ("1:14 min", 74.0),
        ("0:01:15", 75.0),
        ("00:01:14.9", 74.9),
        ("0:01:14,900000", 74.9),
        ("1:05", 65.0),
        ("00:18.4", 18.4),
    ],
)
def test_minutes_and_seconds_are_seconds(typed: str, seconds: float) -> None:
    for options in (BY_HAND, Options(), Options(unit="min")):
        assert read(BEST, typed, options) == seconds
    assert read_measured(BEST, f"{typed} ± 0.2 s", BY_HAND).value == seconds


@pytest.mark.parametrize("typed", ["1:74.9", "1:60.0", "1:4.9", "61:61.5", "1:", ":14.9", "1:14.", "a lap", "1:2:3"])
def test_what_is_no_lap_is_refused_with_both_ways_to_write_one(typed: str) -> None:
    fault = refused(BEST, typed)
    assert fault.code == "number_unparseable"
    assert fault.wanted == "seconds such as 74.9, or minutes:seconds such as 1:14.9"


def test_hours_and_minutes_of_a_spreadsheet_are_refused_with_the_seconds_that_were_meant() -> None:
    fault = refused(BEST, "01:15:00")
    assert "hours and minutes" in fault.what
    assert fault.remedy == "Write 75 s if minutes and seconds are meant."
    for typed in ("25:00:00", "1:15:10", "1:02:03", "0:00", "61:05"):
        fault = refused(BEST, typed)
        assert (fault.what, fault.remedy) == ("not a number of seconds", None), "no lap is that long, or takes no time"


def test_which_fields_take_minutes_is_decided_by_how_long_they_can_be() -> None:
    """From an hour on 1:15 may be an hour and a quarter."""
    assert [takes_minutes(timed(name)) for name in ("at_most_s", "below_s", "wait_s", "long_s", "mass_g")] == [
        *(True, True),
        *(False, False, False),
    ]
    assert not takes_minutes(field_of(RunDiff, "after_run_s"))
    assert read(timed("at_most_s"), "8:10.5", BY_HAND) == 490.5, "odd for a lap, and possible by its bounds"
    assert read(timed("at_most_s"), "8:10", BY_HAND) == 490.0
    assert refused(timed("at_most_s"), "12:00.5").code == "out_of_range"
    assert read(BEST, "6:10.4", BY_HAND) == pytest.approx(370.4), "outside the sane range, where a person is asked"
    assert refused(BEST, "6:10").remedy is None, "a time of day perhaps, and 370 s would be refused as well"


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        ("18.40 18.5", "18.40 18.5"),
        ("1:14.9, 1:15.2 s; 75.40 s", "74.9 75.2 75.40"),
        ("1:14,9 1:15,2", "74.9 75.2"),
        ("1:14.9 1:15,2 75.1", "74.9 75.2 75.1"),
        ("14,2 14.3 14,5", "14.2 14.3 14.5"),
        ("18.4,18.5", "18.4 18.5"),
        ("18.4\n18.5 | 18.6", "18.4 18.5 18.6"),
        ("18,412 18,390", "18.412 18.39"),
        ("0:01:15", "75"),
        (" n/a ", None),
    ],
)
def test_a_text_of_laps_is_read_lap_by_lap_and_stored_in_seconds(typed: str, stored: str | None) -> None:
    assert read(LAPS, typed, BY_HAND) == stored
    assert stored is None or read(LAPS, stored, BY_HAND) == stored, "what is stored reads as itself"


@pytest.mark.parametrize(
    ("typed", "lap"),
    [
        ("1:14.9 1:75", 2),
        ("1:75", 1),
        ("18.4 dnf 18.5", 2),
        ("18.4 -3", 2),
        *(("1:14.9 - 1:15", 2), ("1:14 ,9", 2), ("18.4 1.9", 2), ("18,18.5", 1)),
    ],
)
def test_a_lap_that_is_none_is_refused_by_its_number(typed: str, lap: int) -> None:
    fault = refused(LAPS, typed)
    assert fault.what.startswith(f"lap {lap}: ")


@pytest.mark.parametrize(
    ("typed", "time_s", "day"),
    [
        ("a:1:1:14.9", 74.9, None),
        ("a:1:1:14,9", 74.9, None),
        ("a:1:1:14.9 s:2", 74.9, "2"),
        ("a:1:1:14.9±0.2:sat", 74.9, "sat"),
        ("a:1:1:14", 74.0, None),
        ("a::1:14.9", 74.9, None),
        ("a:1:18.4:2", 18.4, "2"),
        ("a:1:18.0:14:ana", 18.0, "14"),
        ("a:1:18:2", 18.0, "2"),
        ("a:1:74.9:2026-05-03", 74.9, "2026-05-03"),
    ],
)
def test_the_colon_within_a_time_parts_nothing_in_an_item(typed: str, time_s: float, day: str | None) -> None:
    """Nobody laps in 1 s."""
    found = read_listing_item(timed("runs"), typed, BY_HAND)
    assert (found.time_s, found.day) == (time_s, day)


def test_an_item_with_two_sane_readings_or_none_is_refused() -> None:
    for typed, code in (
        ("a:1:4:14", "ambiguous_number"),
        ("a:1:5:20", "ambiguous_number"),
        ("a:1:12:30", "ambiguous_number"),
        ("a:1:18:02", "ambiguous_number"),
        ("a:1:18:14:ana", "ambiguous_number"),
        ("a:1:1:75", "number_unparseable"),
        ("a:1:1:4.9", "number_un"),
    ):
        with pytest.raises(ReadingError) as caught:
            read_listing_item(timed("runs"), typed, BY_HAND)
        assert caught.value.code.startswith(code)
    assert caught.value.wanted == "seconds such as 74.9, or minutes:seconds such as 1:14.9"


def test_laps_of_a_workbook_and_of_a_table_come_in(bevelbook: Command, db: Path, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["date", "diff", "best lap", "all laps"])
    cells = [
        (time(0, 1, 14, 900_000), "mm:ss.0", 74.9),
        (timedelta(seconds=74.9), "[h]:mm:ss.0", 74.9),
        (74.9 / 86_400, "mm:ss.00", 74.9),
        (timedelta(seconds=75), "[mm]:ss", 75.0),
        ("1:14.9 s", "@", 74.9),
        (time(1, 15), "h:mm", None),
    ]
    for line, (value, form, seconds) in enumerate(cells, start=2):
        sheet.append([date(2026, 5, line), "rear-a", value, value if seconds else None])
        sheet.cell(line, 3).number_format = sheet.cell(line, 4).number_format = form
    book.save(tmp_path / "laps.xlsx")
    (tmp_path / "laps.csv").write_text(
        "date,diff,best lap,all laps\n2026-06-02,rear-a,0:01:15,18.4 18.50\n2026-06-03,rear-a,00:01:14.9,1:75\n",
        encoding="utf-8",
    )
    done = bevelbook("--db", db, "import", tmp_path / "laps.xlsx", "--yes")
    assert "5 rows accepted, 1 rejected" in done.out
    assert 'line 7, best_lap_s "01:15:00"' in done.out
    assert "Write 75 s if minutes and seconds are meant." in done.out
    tabled = bevelbook("--db", db, "import", tmp_path / "laps.csv", "--yes")
    assert 'line 3, lap_times "1:75"' in tabled.out
    runs = bevelbook("--db", db, "export", "--table", "runs", "--csv", "-").out.splitlines()
    place = [runs[0].split(",").index(name) for name in ("best_lap_s", "lap_times")]
    found = [(float(row.split(",")[place[0]]), row.split(",")[place[1]]) for row in runs[1:]]
    wanted = [(seconds, f"{seconds:g}") for _, _, seconds in cells if seconds is not None]
    assert sorted(found) == sorted([*wanted, (75.0, "18.4 18.50")])


def test_a_run_and_a_calculator_read_the_same_and_the_texts_say_so(bevelbook: Command, db: Path) -> None:
    words = ("--db", db, "record", "run", "run_on=2026-05-05", "best_lap=1:14.9 s", "lap_times=1:14.9 75.20")
    assert {"best_lap_s": 74.9, "lap_times": "74.9 75.20"}.items() <= bevelbook(*words, "--json").json["values"].items()
    refusal = bevelbook("--db", db, "record", "run", "run_on=2026-05-06", "lap_times=1:14.9 1:75")
    assert (refusal.code, "lap_times: lap 2: " in refusal.err) == (2, True)
    runs = [word for one in ("a:1:1:14.9", "b:2:1:13.9", "b:3:74.1", "a:4:1:15.0") for word in ("--run", one)]
    compared = bevelbook("calc", "run-comparison", *runs, "--json").json
    assert [one["time_s"] for one in compared["inputs"]["runs"]] == [74.9, 73.9, 74.1, 75.0]
    assert "best_lap             Best lap [s], or as 1:14.9" in bevelbook("record", "run", "--fields").out
    assert "1:14.9, 1:14,9 s and" in bevelbook("help", "import").out


@pytest.mark.parametrize("typed", ["18.4/18.5", "18.4 / 18.5", "20x", "24 laps", "18.4-18.5", "18.4+18.5", "18.4 0.5"])
def test_laps_that_cannot_be_read_say_what_stands_between_laps(bevelbook: Command, db: Path, typed: str) -> None:
    bevelbook("--db", db, "new")
    refused = bevelbook("--db", db, "record", "run", "run_on=2026-05-06", f"lap_times={typed}")
    assert refused.code == 2
    assert "Between laps stands a blank, a semicolon or a new line: 18.4 1:14.9." in refused.err
    for between in (" ", "; ", "\n"):
        assert laps_in(between.join(["18.4", "1:14.9"])) == ["18.4", "1:14.9"]
