"""The oil days of runs as they are in the database."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from bevelbook.facts.runs import runs_of_row
from bevelbook.formulas.oil_days import CalledRun, DaysKept, OilDay, days_kept


def oil_day(run: Mapping[str, Any]) -> OilDay:
    """The oil day of a diff in a run: a row with ``run_on``, ``diff``, ``fluid`` and ``viscosity_cst``."""
    return OilDay(run["run_on"], run["diff"], run["fluid"] if run["viscosity_cst"] is None else run["viscosity_cst"])


def oil_days(runs: Iterable[Mapping[str, Any]]) -> set[OilDay]:
    """The oil days of diffs in runs.

    >>> run = {"run_on": "2026-05-02", "diff": "rear-a", "fluid": "house 7k", "viscosity_cst": 7000.0}
    >>> len(oil_days([run, run, {**run, "diff": "rear-b"}, {**run, "run_on": "2026-05-03"}]))
    3
    """
    return {oil_day(run) for run in runs}


def days_kept_of(runs: Iterable[Mapping[str, Any]]) -> DaysKept:
    """What was decided after runs, by day; the rows have ``call``, ``runs`` and ``run`` as well."""
    return days_kept(CalledRun(oil_day(run), run["call"], runs_of_row(run), run["run"]) for run in runs)
