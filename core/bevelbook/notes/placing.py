"""What a flat note row is: builds, weighings and runs, by rows in order of their day, then line.

A dry or oil mass, or a fluid or viscosity other than the diff's current one, makes a build; a total mass alone makes a
weighing; runs, temperatures, grip, venue, call or a note make a run on the diff's current build. A diff without a
current build gets one with everything unknown. A row that says nothing beside its diff is kept as a run of 0 runs.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from typing import Any, Final

from bevelbook.notes.bulk import BUILD, RUN, RUN_DIFF, WEIGHING, Bulk, Current, day_part, note_id
from bevelbook.notes.staging import Stage

PLACED_ROWS: Final = 10_000
_WRITTEN_ROWS: Final = 2_500
"""After so many rows their records are written: enough to pay for a statement, few enough to hold."""
DRIVEN: Final = frozenset(
    ("venue", "position", "grip", "track_temp_c", "air_temp_c", "diff_temp_c", "runs", "call", "result_note")
)
"""The columns that make a run, or belong to one."""
FILLED: Final = ("builder", "diff", "dry_mass_g", "oil_mass_g", "total_mass_g", "viscosity_cst", "fluid")


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
        self._diffs = bulk.names("diff")
        self._people = bulk.names("person")
        self._venues = bulk.names("venue")
        self._add_build, self._add_weighing = bulk.taker("build"), bulk.taker("weighing")
        self._add_run, self._add_run_diff = bulk.taker("run"), bulk.taker("run_diff")

    def run(self, progress: Callable[[int], None] | None = None) -> None:
        """Place all rows."""
        stage, bulk = self.stage, self.bulk
        template, spread = stage.content_template, stage.picker(stage.columns)
        fills_only = not (bulk.holds_notes or stage.has_any(DRIVEN))
        fill = stage.picker(FILLED)
        day = ids = ""
        seen: dict[str, int] = {}
        for count, (line, row) in enumerate(stage.in_order(), 1):
            if row[0] != day:
                day = row[0]
                ids = day_part(day)
                seen.clear()
            content = template % row
            occurrence = seen.get(content, 0)
            seen[content] = occurrence + 1
            if occurrence:
                stage.add_finding(line, "duplicate_row")
            note = note_id(ids, content, occurrence)
            if fills_only and self._is_fill(line, note, day, *fill((*row, None))):
                pass
            elif bulk.holds_notes and bulk.is_known(note):
                self._meet_again(note)
            else:
                self._place(line, note, spread((*row, None)))
            if count % _WRITTEN_ROWS == 0:
                bulk.flush()
                if progress and count % PLACED_ROWS == 0:
                    progress(count)
        bulk.flush()
        self._keep_extras()
        self.made["builds"] += self.fills
        self.added += self.fills

    def _is_fill(
        self,
        line: int,
        note: str,
        day: str,
        builder: str | None,
        label: str,
        dry: float | None,
        oil: float | None,
        total: float | None,
        viscosity: float | None,
        fluid: str | None,
    ) -> bool:
        """The short way for a row that makes a build and nothing else: no run, and no other build to look at."""
        if oil is None:
            return False
        bulk, build = self.bulk, note + BUILD
        diff = self._diffs.get(label) or bulk.name_id("diff", label, line)
        person = (self._people.get(builder) or bulk.name_id("person", builder, line)) if builder else None
        oil_id = bulk.name_id("fluid", fluid, line) if fluid else None
        self._current[diff] = Current(build, diff, day, oil_id, viscosity, None)
        named = bulk.next_build_label(diff, label)
        origin = None if viscosity is None else "note"
        self._add_build((build, line, named, diff, day, person, oil_id, viscosity, origin, dry, oil, total))
        self.fills += 1
        self.diffs.add(diff)
        return True

    def _keep_extras(self) -> None:
        self.stage.add_extras(self._extras)
        self._extras.clear()

    def _meet_again(self, note: str) -> None:
        """A row that is in the database already: only the build that it made counts for the rows after it."""
        self.known += 1
        build = self.bulk.build_of(note)
        if build:
            self._current[build.diff] = build

    def counts(self) -> dict[str, int]:
        """How many records were made, by kind."""
        return {name: self.made[name] for name in ("builds", "weighings", "runs") if self.made[name]}

    def _place(self, line: int, note: str, values: tuple[Any, ...]) -> None:
        date, builder, label, dry, oil, total, viscosity, fluid, venue, position, grip, *others = values
        track, air, diff_temp, runs, call, text = others
        bulk = self.bulk
        diff = self._diffs.get(label) or bulk.name_id("diff", label, line)
        self.added += 1
        self.diffs.add(diff)
        person = (self._people.get(builder) or bulk.name_id("person", builder, line)) if builder else None
        oil_id = bulk.name_id("fluid", fluid, line) if fluid else None
        has_mass = dry is not None or oil is not None
        current = None if has_mass else self._current_of(diff, date)
        builds = has_mass or self._other_oil(current, oil_id, viscosity)
        weighs = total is not None and not builds
        drives = not (runs is track is air is diff_temp is grip is venue is call is text is None)
        if not (builds or weighs or drives or current is None):
            drives, runs = True, 0.0
        if builds or current is None:
            current = Current(note + BUILD, diff, date, oil_id, viscosity, None)
            self._current[diff] = current
            filled = total if builds else None
            origin = None if viscosity is None else "note"
            named = bulk.next_build_label(diff, label)
            self._add_build(
                (current.build, line, named, diff, date, person, oil_id, viscosity, origin, dry, oil, filled)
            )
            self.made["builds"] += 1
            if oil is None and (dry is None or total is None):
                self.stage.add_finding(line, "fill_unknown")
        if weighs:
            self._add_weighing((note + WEIGHING, line, current.build, date, total, current.mass_basis, person))
            self.made["weighings"] += 1
        if drives:
            venue_id = (self._venues.get(venue) or bulk.name_id("venue", venue, line)) if venue else None
            run = note + RUN
            named = bulk.next_run_label(date)
            self._add_run((run, line, named, date, venue_id, person, grip, air, track, runs, call, text))
            self._add_run_diff((note + RUN_DIFF, line, run, current.build, position, diff_temp))
            self.made["runs"] += 1
        elif position is not None:
            self._extras.append((line, json.dumps({"position": position})))
            if len(self._extras) >= PLACED_ROWS:
                self._keep_extras()

    def _current_of(self, diff: str, date: str) -> Current | None:
        """The later of the build that this file made and the one that the database holds."""
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
