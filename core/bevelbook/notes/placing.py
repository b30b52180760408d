"""Turning flat note rows into builds, weighings and runs, in order of day, then line.

A dry or oil mass, or a fluid or viscosity other than the diff's current one, makes a build; a total mass alone makes a
weighing; runs, temperatures, grip, venue, call or a note make a run on the diff's current build. A diff without a
current build gets one with everything unknown. A row with nothing but its diff is kept as a run of 0 runs.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from bevelbook.notes.bulk import BUILD, RUN, RUN_DIFF, WEIGHING, Bulk, Current, Names, day_part, note_id
from bevelbook.notes.note_columns import LOOSE, REFERRED, filled, making
from bevelbook.notes.staging import Stage, picker
from bevelbook.records.building import Build, Weighing
from bevelbook.records.track import Run

PLACED_ROWS: Final = 10_000
_WRITTEN_ROWS: Final = 2_500
"""Records are written after this many rows: enough for an efficient statement, few enough for memory."""
_RUNS: Final = tuple(filled("run")).index("runs")
Row = tuple[Any, ...]
"""Rows and parts of rows are joined with + below: that takes half the time of unpacking them."""


def _says_any(cells: Row) -> bool:
    return cells.count(None) < len(cells)


def _adding_ids(named: Sequence[tuple[int, Names]]) -> Callable[[Row], Row]:
    """A function that appends the ids of the records that a row names, and then a None.

    Compiled for the columns of one file, since it runs for every row.
    """
    looked_up = "".join(f"names{number}[row[{place}]], " for number, (place, _) in enumerate(named))
    scope: dict[str, Any] = {f"names{number}": names for number, (_, names) in enumerate(named)}
    made: Callable[[Row], Row] = eval(f"lambda row: row + ({looked_up}None,)", scope)
    return made


class Placing:
    """Places the staged rows; ``made`` counts the records by kind, ``added`` and ``known`` the rows.

    ``diffs`` are the diffs (by id) to which anything was added.
    """

    def __init__(self, stage: Stage, bulk: Bulk) -> None:
        self.stage = stage
        self.bulk = bulk
        self.made: Counter[str] = Counter()
        self.added = 0
        self.known = 0
        self.fills = 0
        self.diffs: set[str] = set()
        self._current: dict[str, Current] = {}
        self._extras: list[tuple[int, str]] = []
        self._add_build, self._add_weighing = bulk.taker("build"), bulk.taker("weighing")
        self._add_run, self._add_run_diff = bulk.taker("run"), bulk.taker("run_diff")
        self._find_places()

    def _find_places(self) -> None:
        """The places in a row by name: its columns, then the ids of what they name, then None."""
        stage = self.stage
        named = [name for name in stage.present if name in REFERRED]
        ids = {name: len(stage.present) + place for place, name in enumerate(named)}

        def picks(names: Iterable[str]) -> Callable[[Row], Row]:
            return picker([ids.get(name, stage.place(name)) for name in names])

        self._with_ids = _adding_ids([(stage.place(name), self.bulk.names(REFERRED[name])) for name in named])
        self._label, self._diff, self._fluid = stage.place("diff"), ids["diff"], ids.get("fluid", -1)
        self._dry, self._oil = stage.place("dry_mass_g"), stage.place("oil_mass_g")
        self._total, self._viscosity = stage.place("total_mass_g"), stage.place("viscosity_cst")
        self._of_build, self._of_weighing = picks(filled("build").values()), picks(filled("weighing").values())
        self._of_run, self._of_run_diff = picks(filled("run").values()), picks(filled("run_diff").values())
        weighing = making(Weighing)
        self._of_unknown_build = picks("" if name in weighing else name for name in filled("build").values())
        self._building, self._weighing, self._driving = (
            stage.picker([name for name in making(cls) if name in stage.present]) for cls in (Build, Weighing, Run)
        )
        self._loose = [(name, kind, stage.place(name)) for name, kind in LOOSE.items() if name in stage.present]

    def run(self, progress: Callable[[int], None] | None = None) -> None:
        """Place all rows."""
        stage, bulk = self.stage, self.bulk
        content_of = stage.content
        fills_only = self._oil >= 0 and not bulk.holds_notes and set(stage.present) <= set(filled("build").values())
        day = ids = ""
        seen: dict[str, int] = {}
        for count, (line, row) in enumerate(stage.in_order(), 1):
            if row[0] != day:
                day = row[0]
                ids = day_part(day)
                seen.clear()
            content = content_of(row)
            occurrence = seen.get(content, 0)
            seen[content] = occurrence + 1
            if occurrence:
                stage.add_finding(line, "duplicate_row")
            note = note_id(ids, content, occurrence)
            if fills_only and row[self._oil] is not None:
                self._fill(line, note, day, row)
            elif bulk.holds_notes and bulk.is_known(note):
                self._meet_again(note)
            else:
                self._place(line, note, day, row)
            if count % _WRITTEN_ROWS == 0:
                bulk.flush()
                if progress and count % PLACED_ROWS == 0:
                    progress(count)
        bulk.flush()
        self._keep_extras()
        self.made["builds"] += self.fills
        self.added += self.fills

    def _fill(self, line: int, note: str, day: str, row: Row) -> None:
        """The short way for a row that only makes a build: no run, and no other build to check."""
        bulk = self.bulk
        bulk.line = line
        row = self._with_ids(row)
        build, diff, viscosity = note + BUILD, row[self._diff], row[self._viscosity]
        self._current[diff] = Current(build, diff, day, row[self._fluid], viscosity, None)
        named = bulk.next_build_label(diff, row[self._label])
        origin = None if viscosity is None else "note"
        self._add_build((build, line, named, origin) + self._of_build(row))  # noqa: RUF005
        self.fills += 1
        self.diffs.add(diff)

    def _keep_extras(self) -> None:
        self.stage.add_extras(self._extras)
        self._extras.clear()

    def _meet_again(self, note: str) -> None:
        """A row that is already in the database: only its build matters for the rows after it."""
        self.known += 1
        build = self.bulk.build_of(note)
        if build:
            self._current[build.diff] = build

    def counts(self) -> dict[str, int]:
        """How many records were made, by kind."""
        return {name: self.made[name] for name in ("builds", "weighings", "runs") if self.made[name]}

    def _place(self, line: int, note: str, date: str, row: Row) -> None:
        bulk = self.bulk
        bulk.line = line
        row = self._with_ids(row)
        diff, fluid, viscosity = row[self._diff], row[self._fluid], row[self._viscosity]
        self.added += 1
        self.diffs.add(diff)
        has_mass = _says_any(self._building(row))
        current = None if has_mass else self._current_of(diff, date)
        builds = has_mass or self._other_oil(current, fluid, viscosity)
        weighs = not builds and _says_any(self._weighing(row))
        drives = _says_any(self._driving(row))
        says_nothing = not (builds or weighs or drives or current is None)
        makes_build = builds or current is None
        if current is None or builds:
            current = Current(note + BUILD, diff, date, fluid, viscosity, None)
            self._current[diff] = current
            origin = None if viscosity is None else "note"
            named = bulk.next_build_label(diff, row[self._label])
            values = self._of_build(row) if builds else self._of_unknown_build(row)
            self._add_build((current.build, line, named, origin) + values)  # noqa: RUF005
            self.made["builds"] += 1
            if row[self._oil] is None and (row[self._dry] is None or row[self._total] is None):
                self.stage.add_finding(line, "fill_unknown")
        if weighs:
            self._add_weighing((note + WEIGHING, line, current.build, current.mass_basis, *self._of_weighing(row)))
            self.made["weighings"] += 1
        if drives or says_nothing:
            run = note + RUN
            values = self._of_run(row)
            if says_nothing:
                values = (*values[:_RUNS], 0.0, *values[_RUNS + 1 :])
            self._add_run((run, line, bulk.next_run_label(date)) + values)  # noqa: RUF005
            self._add_run_diff((note + RUN_DIFF, line, run, current.build) + self._of_run_diff(row))  # noqa: RUF005
            self.made["runs"] += 1
        if self._loose:
            made = {"build": makes_build, "weighing": weighs, "run": drives or says_nothing}
            self._keep_loose(line, row, made)

    def _keep_loose(self, line: int, row: Row, made: Mapping[str, bool]) -> None:
        """Keep the cells of a record that the row does not make."""
        left = {name: row[place] for name, kind, place in self._loose if not made[kind] and row[place] is not None}
        if left:
            self._extras.append((line, json.dumps(left)))
            if len(self._extras) >= PLACED_ROWS:
                self._keep_extras()

    def _current_of(self, diff: str, date: str) -> Current | None:
        """The later of this file's build and the one in the database."""
        here = self._current.get(diff)
        if not self.bulk.holds_builds:
            return here
        held = self.bulk.current(diff, date)
        if here and (held is None or held.day <= here.day):
            return here
        return held

    @staticmethod
    def _other_oil(current: Current | None, fluid: str | None, viscosity: float | None) -> bool:
        if current is None:
            return fluid is not None or viscosity is not None
        return (fluid is not None and fluid != current.fluid) or (
            viscosity is not None and viscosity != current.viscosity_cst
        )
