"""What a check and an import say of laps that do not agree, and of those that cannot be read. All data are constructed.

The best lap of a run is the least of its laps: common practice, no source; expected is Python's ``min``. What is
rounded to a tenth agrees: ISO 80000-1, annex B.
"""

from __future__ import annotations

import shlex
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome
from constructed import Add

from bevelbook.reports.lap_findings import lap_findings

LAPS = (18.40, 18.39, 18.52)
LISTED = " ".join(f"{lap:.2f}" for lap in LAPS)


@pytest.mark.parametrize(
    ("best_s", "said"),
    [
        (18.2, "its best lap of 18.2 s is less than the least of the laps listed, 18.39 s: the list lacks it"),
        (18.5, "its best lap of 18.5 s is more than the least of the laps listed, 18.39 s: one of them is wrong"),
        (min(LAPS), ""),
        (round(min(LAPS), 1), ""),
        (None, ""),
    ],
)
def test_a_best_lap_that_is_not_the_least_is_found_once(
    connection: sqlite3.Connection, add: Add, best_s: float | None, said: str
) -> None:
    add("run", label="2026-05-03/1", run_on="2026-05-03", lap_times=LISTED, best_lap_s=best_s)
    add("run", label="2026-05-04/1", run_on="2026-05-04", best_lap_s=17.0)
    found = list(lap_findings(connection))
    assert len(found) == bool(said)
    for one in found:
        assert (one.code, one.subject_label, one.severity) == ("best_lap_not_least", "2026-05-03/1", "worth a look")
        assert one.words.startswith(said)
        assert "'bevelbook record run 2026-05-03/1 best_lap=18.39'" in one.remedy


@pytest.mark.parametrize("least", [True, False])
def test_the_command_of_a_finding_settles_it(bevelbook: Callable[..., Outcome], least: bool) -> None:
    assert bevelbook("new").code == 0
    assert bevelbook("record", "run", "run_on=2026-05-03", f"lap_times={LISTED}", "best_lap=18.5").code == 0
    said = " ".join(bevelbook("check", "--past").out.split())
    assert said.count("the laps listed") == 1
    word = "best_lap=18.39" if least else "lap_times=..."
    command = f"bevelbook record run 2026-05-03/1 {word}"
    assert f"'{command}'" in said
    assert bevelbook(*shlex.split(command.replace("...", "'18.50 18.60'"))[1:]).code == 0
    assert "the laps listed" not in " ".join(bevelbook("check", "--past").out.split())


def test_lists_that_cannot_be_read_are_named_with_what_to_type(connection: sqlite3.Connection, add: Add) -> None:
    """A minute is 60 s: The International System of Units, 9th edition, table 8."""
    assert list(lap_findings(connection)) == []
    lists = (LISTED, "1:14.9, 1:15.2", "18,4 18,5", "18,4,18,5 - none", "18.4  18.5", "")
    for day, listed in enumerate(lists, start=1):
        add("run", label=f"2026-05-0{day}/1", run_on=f"2026-05-0{day}", lap_times=listed)
    (found,) = lap_findings(connection)
    assert found.code == "laps_not_read"
    assert found.words.startswith("the laps of 4 runs are not seconds with blanks between")
    assert "'18,4,18,5 - none' of 2026-05-04/1; '18,4 18,5' of 2026-05-03/1; and 1 more" in found.words
    assert "2026-05-04/1 lap_times=...'" in found.remedy
    assert "'bevelbook record run 2026-05-03/1 \"lap_times=18.4 18.5\"'" in found.remedy
    connection.execute("DELETE FROM runs WHERE label <> '2026-05-02/1'")
    (found,) = lap_findings(connection)
    assert found.words.endswith("'1:14.9, 1:15.2' of 2026-05-02/1")
    assert f"'bevelbook record run 2026-05-02/1 \"lap_times={60 + 14.9:g} {60 + 15.2:g}\"'" in found.remedy


def test_an_import_names_the_lines_and_takes_them(bevelbook: Callable[..., Outcome]) -> None:
    assert bevelbook("new").code == 0
    Path("laps.csv").write_text(
        "date;diff;all laps;best lap\n"
        f"2026-06-01;rear-a;{LISTED};18.2\n2026-06-02;rear-a;{LISTED};18.4\n"
        f"2026-06-03;rear-a;;18.6\n2026-06-04;rear-a;{LISTED};\n2026-06-05;rear-a;{LISTED};18.6\n",
        encoding="utf-8",
    )
    done = bevelbook("import", "laps.csv")
    text = " ".join(f"{done.out} {done.err}".split())
    assert "5 rows accepted, 0 rejected" in text
    assert text.count("is not the least of the laps listed") == 1
    assert "corrects it (lines 2, 6)" in text
    said = " ".join(bevelbook("check", "--past").out.split())
    assert said.count("the laps listed, 18.39 s") == 2
