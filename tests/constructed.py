"""Constructed records for tests: a diff with a scale, and its builds one after the other."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Any

from bevelbook.records import BY_NAME
from bevelbook.store.writing import Writer

Add = Callable[..., str]
"""``add("bottle", fluid=..., lot="A")`` inserts a record and returns its id."""


def adding(writer: Writer) -> Add:
    """A function that inserts a record by its name in the singular."""
    return lambda kind, /, **values: writer.insert(BY_NAME[kind], values)


class Team:
    """A diff with a scale, and a way to make its builds one after the other."""

    def __init__(self, add: Add, label: str = "rear-a", **diff: Any) -> None:
        self.add, self.label, self.count = add, label, 0
        self.scale = add("scale", name=f"scale of {label}", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.0)
        self.diff = add("diff", label=label, **{"housing_material": "aluminium", **diff})

    def build(self, **values: Any) -> str:
        self.count += 1
        standard = {
            "label": f"{self.label}/{self.count}",
            "diff": self.diff,
            "built_on": f"2026-0{1 + self.count // 28}-{1 + self.count % 28:02}",
            "scale": self.scale,
        }
        return self.add("build", **{**standard, **values})

    def weigh(self, build: str, *weighings: tuple[float, float]) -> None:
        for runs, mass in weighings:
            self.add("weighing", build=build, runs=runs, mass_g=mass, mass_basis="closed", scale=self.scale)

    def run(self, build: str, day: str, runs: float = 1.0, call: str | None = None, *, note: str | None = None) -> None:
        run = self.add("run", label=f"{day}/{self.label}", run_on=day, runs=runs, call=call, note=note)
        self.add("run_diff", run=run, build=build)

    def open(self, build: str, day: str = "2026-03-01", **found: Any) -> str:
        return self.add("opening", build=build, opened_on=day, **found)


def kept(connection: sqlite3.Connection, **values: Any) -> None:
    """Write a row of calculations as one that some calculator kept."""
    row = {
        "id": f"calculation {values}",
        "version": 1,
        "given": "{}",
        "found": "{}",
        "origins": "{}",
        "reasons": "[]",
        "verdict": "ok",
        "package": "bevelbook",
        "package_version": "0",
        "calculated_at": "2026-02-02",
        **values,
    }
    marks = ", ".join("?" * len(row))
    connection.execute(f"INSERT INTO calculations ({', '.join(row)}) VALUES ({marks})", tuple(row.values()))
