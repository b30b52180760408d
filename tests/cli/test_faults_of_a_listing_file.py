"""A fault of a value in a file of a listing names the file and the line. All data are constructed.

A line is counted as an editor counts it, blank lines and the heading too: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome

Command = Callable[..., Outcome]


@pytest.mark.parametrize(
    ("rows", "place"),
    [
        ("a,1,15.9\nb,2,15.7\n\nb,3,abc\n", "runs.csv, line 5: not a number"),
        ("a,1,15.9\nc,2,15.7\n", "runs.csv, line 3: "),
    ],
)
def test_a_fault_in_a_file_names_file_and_line(bevelbook: Command, rows: str, place: str) -> None:
    Path("runs.csv").write_text(f"group,order,time_s\n{rows}", encoding="utf-8")
    for before in ((), ("--run", "a:9:15.9")):
        done = bevelbook("calc", "run-comparison", *before, "--runs-file", "runs.csv")
        assert (done.code, place in done.err, "item" in done.err) == (2, True, False)


def test_a_fault_behind_an_option_names_the_option_and_its_item(bevelbook: Command) -> None:
    done = bevelbook("calc", "run-comparison", "--run", "a:1:15.9", "--run", "b:2:abc")
    assert "--run, item 2: not a number" in done.err
