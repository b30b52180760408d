"""What came of a build: its runs, the oil it lost, what was decided and said, and what its opening found."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import fields_of
from bevelbook.display.days import day_in_words
from bevelbook.facts.kept_facts import facts_of
from bevelbook.facts.oil_days import days_kept_of
from bevelbook.facts.runs import LAST_RUN_FIRST, count_of, runs_of_row
from bevelbook.facts.said_nothing import something_sql
from bevelbook.facts.sql import Row, rows
from bevelbook.formulas.oil_days import DECIDED, DaysKept
from bevelbook.formulas.oil_lost_words import NOT_WEIGHED
from bevelbook.records import BY_NAME
from bevelbook.records.facts import BuildFacts
from bevelbook.reports.build_difference import Noted, NotedValues
from bevelbook.reports.leak_found import of_opening
from bevelbook.reports.oil_lost_line import IS_WET, loss_said
from bevelbook.reports.water_in_housings import wet_builds

REMARKS: Final = 1
"""How many of the newest remarks are repeated."""
_REMARK: Final = f"coalesce(r.note, {something_sql('r.happened')})"
_REMARK_LETTERS: Final = 110
_SOUND: Final = "ok"
"""What an opening says of a part that is as it should be, and the verdict on a build that keeps its oil."""
_WHY_AND_WHERE: Final = ("reason", "leak_place", "leak_amount")


class Remark(NamedTuple):
    """What was said of a run, with its day."""

    day: str
    words: str


class BuildOutcome(NamedTuple):
    """What came of one build. ``opening`` is the row of its first opening; ``lost_runs`` had lost oil, or may have;
    ``is_wet`` where water in the housing is part of the uncertainty of the loss."""

    facts: BuildFacts
    kept: DaysKept
    lost_runs: float
    other_calls: dict[str, float]
    remarks: tuple[Remark, ...]
    opening: Row | None
    is_wet: bool

    @property
    def verdict(self) -> str:
        """Whether it lost oil by its weighings; empty where it was not weighed."""
        return self.facts.leak or ""

    @property
    def leak_found(self) -> str:
        """The leak that its opening found; empty where it found none."""
        return of_opening(self.opening) if self.opening else ""

    @property
    def oil_lost_words(self) -> str:
        """What was found at its opening, then what the weighings say; empty where neither says anything."""
        if self.leak_found:
            return f"{self.leak_found}{f'; oil lost by the scale: {self.verdict}' if self.verdict else ''}"
        return f"oil lost: {self.verdict}" if self.verdict else ""

    @property
    def leak_line(self) -> str:
        """What a build that leaks or may leak lost, by which run, the verdict, and what its opening found: one line for
        whoever opens it or builds it again. Empty where nothing says that it leaks."""
        said = []
        if self._is_weighed and self.verdict not in ("", _SOUND):
            said.append(f"{self._loss_said(when=True)}: {self.verdict}")
        return "; ".join((*said, self.leak_found) if self.leak_found else said)

    def noted(self) -> NotedValues:
        """The single values, to set against those of another build."""
        facts = self.facts
        noted: NotedValues = {"runs": Noted(facts.runs, "runs")}
        if self._is_weighed:
            said = self._loss_said()
            noted["mass lost"] = Noted(facts.loss_g, "g") if said.startswith("lost ") else Noted(said)
            if facts.weighings_apart is not None:
                noted["weighings that disagree"] = Noted(facts.weighings_apart)
            noted["weighed last"] = Noted(f"after {count_of(facts.weighed_at_runs or 0.0)}")
            noted["oil lost"] = Noted(facts.leak)
        if self.kept.days:
            noted["kept"] = Noted(self.kept.words.removeprefix("kept "))
        if self.lost_runs:
            noted["not counted for that"] = Noted(self._lost_said())
        for call, runs in self.other_calls.items():
            noted[f"call {call}"] = Noted(count_of(runs))
        if self.opening:
            for field in BY_NAME["opening"].fields:
                value = self.opening[field.name]
                if value is not None and field.kind in ("choice", "date"):
                    noted["opened on" if field.kind == "date" else f"found: {field.words}"] = Noted(value)
        return noted

    def lines(self) -> Iterator[str]:
        """The same in a few lines: runs and oil, what was decided, what was said, what was found."""
        yield f"{count_of(self.facts.runs)}; {self._loss_said(when=True) if self._is_weighed else NOT_WEIGHED}"
        if self.facts.weighings_apart is not None and self._is_weighed:
            yield self.facts.weighings_apart
        decided = [self.kept.words] if self.kept.days else []
        decided += [f"{count_of(runs)} {call}" for call, runs in self.other_calls.items()]
        decided += [f"{self._lost_said()}, not counted"] if self.lost_runs else []
        if decided:
            yield "; ".join(decided)
        for remark in self.remarks:
            yield f"{day_in_words(remark.day)}: “{remark.words}”"
        if self.opening:
            yield self._opening_said(self.opening)

    def as_dict(self) -> dict[str, Any]:
        """What the single values do not have, for programs."""
        return {
            "oil_lost": self.facts.leak,
            "leak_found": self.leak_found or None,
            "runs": self.facts.runs,
            "remarks": [remark._asdict() for remark in self.remarks],
            "words": list(self.lines()),
        }

    @property
    def _is_weighed(self) -> bool:
        return self.facts.loss_g is not None and self.facts.weighed_at_runs is not None

    def _loss_said(self, *, when: bool = False) -> str:
        row = {field.name: getattr(self.facts, field.name) for field in fields_of(BuildFacts)}
        return loss_said(row | {IS_WET: self.is_wet}, when=when)

    def _lost_said(self) -> str:
        return f"{count_of(self.lost_runs)} that had lost oil, or may have"

    def _opening_said(self, opening: Row) -> str:
        why = ", ".join(str(opening[name]) for name in _WHY_AND_WHERE if opening[name])
        found = ", ".join(
            f"{field.words} {opening[field.name]}"
            for field in BY_NAME["opening"].fields
            if field.kind == "choice" and field.name not in _WHY_AND_WHERE and opening[field.name] not in (None, _SOUND)
        )
        said = f"opened {day_in_words(opening['opened_on'])}" + (f" ({why})" if why else "")
        return f"{said}: {found}" if found else said


def outcome_of(connection: sqlite3.Connection, build: str) -> BuildOutcome:
    """What came of a build, by its id."""
    called = rows(
        connection,
        "SELECT r.id AS run, r.run_on, r.call, r.runs, b.diff, b.fluid, k.viscosity_cst, "
        "coalesce(n.fill_state IN ('doubtful', 'lost oil'), 0) AS lost_oil "
        "FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build "
        "JOIN build_facts k ON k.build = b.id LEFT JOIN run_diff_facts n ON n.run_diff = x.id "
        "WHERE x.build = ? AND r.call IS NOT NULL ORDER BY r.call, x.id",
        (build,),
    )
    others = dict.fromkeys(row["call"] for row in called if row["call"] not in DECIDED)
    opening = rows(connection, "SELECT * FROM openings WHERE build = ? ORDER BY opened_on, id LIMIT 1", (build,))
    facts = facts_of(connection, BuildFacts, build)
    diff = connection.execute("SELECT diff FROM builds WHERE id = ?", (build,)).fetchone()[0]
    return BuildOutcome(
        facts=facts,
        kept=days_kept_of(row for row in called if not row["lost_oil"]),
        lost_runs=sum(runs_of_row(row) for row in called if row["lost_oil"] and row["call"] in DECIDED),
        other_calls={call: sum(runs_of_row(row) for row in called if row["call"] == call) for call in others},
        remarks=_remarks(connection, build),
        opening=opening[0] if opening else None,
        is_wet=bool(wet_builds(connection, [{"id": build, "diff": diff, "loss_g": facts.loss_g}])),
    )


def _remarks(connection: sqlite3.Connection, build: str) -> tuple[Remark, ...]:
    found = connection.execute(
        f"SELECT r.run_on, substr({_REMARK}, 1, 1000) FROM run_diffs x JOIN runs r ON r.id = x.run "
        f"WHERE x.build = ? AND {_REMARK} IS NOT NULL ORDER BY {LAST_RUN_FIRST} LIMIT {REMARKS}",
        (build,),
    )
    return tuple(Remark(day, _first_words(text)) for day, text in found)


def _first_words(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= _REMARK_LETTERS else line[:_REMARK_LETTERS].rstrip() + "…"
