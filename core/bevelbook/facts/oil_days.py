"""Oil days: one day, one diff, one oil. Runs of one oil day share weather, track and fill."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple


class OilDay(NamedTuple):
    """A day on which a diff ran with one oil; an oil without a label is identified by its viscosity at 25 °C in cSt."""

    day: str
    diff: str
    oil: str | float | None


def oil_days(runs: Iterable[Mapping[str, Any]]) -> set[OilDay]:
    """The oil days of diffs in runs: rows with ``run_on``, ``diff``, ``fluid`` and ``viscosity_cst``.

    >>> run = {"run_on": "2026-05-02", "diff": "rear-a", "fluid": "house 7k", "viscosity_cst": 7000.0}
    >>> len(oil_days([run, run, {**run, "diff": "rear-b"}, {**run, "run_on": "2026-05-03"}]))
    3
    """
    return {OilDay(run["run_on"], run["diff"], run["fluid"] or run["viscosity_cst"]) for run in runs}
