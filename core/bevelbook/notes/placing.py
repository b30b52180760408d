"""Turning flat note rows into builds, weighings and runs, in order of day, then line.

A dry or oil mass, a kind of build, or a fluid or viscosity other than the diff's current one, makes a build, which
takes the closed mass too; a total mass alone makes a weighing, a closed mass alone one of the closed diff; runs,
laps, lap times, temperatures, grip, a word on how it drove, or a call make a run on the diff's current build. A diff
without a current build gets one with everything unknown. A cell of a record that the row does not make (a driver of a
build, a torque of a run, a closed mass beside a weighed total) is kept beside the row. So is a temperature of a place
where the row's diff was not, or may not have been: ``notes.row_places``. A remark and a venue
make nothing beside those: they go to the run, else to the weighing, else to the build. A row with nothing else is a
run without a count; one with nothing but its diff is a run of 0 runs.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import compress, islice, product, repeat
from typing import Any, Final

from bevelbook.declare.vocabulary import CLOSED, CLOSED_MASS, CLOSED_MASS_WRITTEN, WRITTEN
from bevelbook.facts.oil import fill_g
from bevelbook.notes.bulk import BUILD, LOOKED_UP_ROWS, RUN, RUN_DIFF, WEIGHING, Bulk, Current, Known, Names
from bevelbook.notes.note_columns import (
    CLOSED_WEIGHING,
    LOOSE,
    MUST_EXIST,
    OF_A_WEIGHING,
    ONCE,
    REFERRED,
    TEMP_AT,
    UNKNOWN_BUILD,
    filled,
    making,
)
from bevelbook.notes.notes_of_stage import NotesInBlocks, StagedNote, notes_of
from bevelbook.notes.off_targets import FillOfRow, OffTargets
from bevelbook.notes.row_places import RowPlaces, RunOfRow
from bevelbook.notes.staging import RowShape, Stage, picker
from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME
from bevelbook.records.building import Build, Weighing
from bevelbook.records.track import Run
from bevelbook.store.diffs_of_rows import keep_named_diffs

PLACED_ROWS: Final = 10_000
_WRITTEN_ROWS: Final = 2_500
"""Records are written after this many rows: enough for an efficient statement, few enough for memory."""
_BUILDS: Final = (None, "build", UNKNOWN_BUILD)
_WEIGHINGS: Final = (None, "weighing", CLOSED_WEIGHING)
_RUN_OR_NOT: Final = (None, "run")
"""What a row may make: no build, one of its own, or one with everything unknown; and more."""
_CLOSED_MASS: Final = "closed_mass_g"
_SHAPES_REMEMBERED: Final = 256
_RUNS: Final = tuple(filled("run")).index("runs")
_DIFF_TEMP: Final = tuple(filled("run_diff")).index("diff_temp_c")
_NO_CELLS: Final[dict[str, Any]] = {}
Row = tuple[Any, ...]
"""Rows and parts of rows are joined with + below: that takes half the time of unpacking them."""


@lru_cache(_SHAPES_REMEMBERED)
def _saying(places: tuple[int, ...]) -> Callable[[Row], bool]:
    """A function that says whether a row has a value at any of these places; compiled, as it is asked of every row."""
    any_of = " or ".join(f"row[{place}] is not None" for place in places)
    made: Callable[[Row], bool] = eval(f"lambda row: {any_of or False}", {})
    return made


def _places(cells: Sequence[Any], wanted: Collection[Any]) -> Iterator[int]:
    return (place for place, cell in enumerate(cells) if cell in wanted)


Loose = tuple[tuple[str, ...], Callable[[Row], Row], Callable[[Row], bool]]
"""The columns whose cells no record of a row takes, a function that picks them, and one that says whether there are
any."""


@lru_cache(_SHAPES_REMEMBERED)
def _loose_of_shape(
    columns: tuple[str, ...], present: tuple[str, ...]
) -> dict[tuple[str | None, str | None, str | None], Loose]:
    """What is left of a row with these columns, by what it makes. Worked out once: the rows of all diffs have one
    shape."""
    shape, found = RowShape(columns, present), {}
    for made in product(_BUILDS, _WEIGHINGS, _RUN_OR_NOT):
        names = tuple(name for name, kinds in LOOSE.items() if name in present and kinds.isdisjoint(made))
        found[made] = (names, shape.picker(names), _saying(tuple(map(shape.place, names))))
    return found


def _adding_ids(named: Mapping[str, tuple[int, Names]]) -> Callable[[Row], Row]:
    """A function that appends the ids of the records that a row names, by column, and then a None.

    Compiled for the columns of one file, since it runs for every row. A bottle is looked up by its mark and its fluid,
    an event by its name and the day, which is the first cell of a row.
    """
    keys = {name: f"row[{place}]" for name, (place, _) in named.items()}
    if "bottle" in keys:
        fluid = f"fluid[{keys['fluid']}]" if "fluid" in keys else "None"
        keys["bottle"] = f"({keys['bottle']}, {fluid})"
    if "event" in keys:
        keys["event"] = f"({keys['event']}, row[0])"
    looked_up = "".join(f"{name}[{key}], " for name, key in keys.items())
    scope: dict[str, Any] = {name: names for name, (_, names) in named.items()}
    made: Callable[[Row], Row] = eval(f"lambda row: row + ({looked_up}None,)", scope)
    return made


class RowMaker:
    """Makes the records of one note row after the other: the only place that says what a row becomes.

    ``made`` counts the records by kind, ``weighings_only`` the rows that are a weighing and nothing else.
    """

    def __init__(self, shape: RowShape, bulk: Bulk) -> None:
        self.stage = shape
        self.bulk = bulk
        self.made: Counter[str] = Counter()
        self.weighings_only = 0
        self._extras: list[tuple[int, str]] = []
        self._add_build, self._add_weighing = bulk.taker("build"), bulk.taker("weighing")
        self._add_run, self._add_run_diff = bulk.taker("run"), bulk.taker("run_diff")
        self._find_places()

    def _find_places(self) -> None:
        """The places in a row by name: its columns, then the ids of what they name, then None."""
        stage = self.stage
        named = [name for name in stage.present if name in REFERRED]
        ids = {name: len(stage.present) + place for place, name in enumerate(named)}

        def picks(names: Iterable[str], but: Collection[str] = ()) -> Callable[[Row], Row]:
            return picker([-1 if name in but else ids.get(name, stage.place(name)) for name in names])

        self.named = tuple(named)
        self._label, self._diff, self._fluid = stage.place("diff"), ids["diff"], ids.get("fluid", -1)
        self._dry, self._oil = stage.place("dry_mass_g"), stage.place("oil_mass_g")
        self._target, self._kind, self._scale = (
            stage.place("target_oil_mass_g"),
            stage.place("build_kind"),
            ids.get("scale", -1),
        )
        self._total, self._viscosity = stage.place("total_mass_g"), stage.place("viscosity_cst")
        of_build, of_weighing = filled("build").values(), filled("weighing").values()
        self._of_build, self._of_build_alone = picks(of_build, ONCE), picks(of_build)
        self._build_columns = {column: ids.get(name, stage.place(name)) for column, name in filled("build").items()}
        self._of_unknown_build = picks(of_build, {*ONCE, *making(Weighing), *OF_A_WEIGHING})
        self._of_weighing, self._of_weighing_alone = picks(of_weighing, ONCE), picks(of_weighing)
        of_closed = [_CLOSED_MASS if name == "total_mass_g" else name for name in of_weighing]
        self._of_closed, self._of_closed_alone = picks(of_closed, ONCE), picks(of_closed)
        self._basis, self._seals = stage.place("mass_basis"), stage.place("seals")
        self._must_exist = [(name, stage.place(name), ids[name]) for name in named if name in MUST_EXIST]
        self._of_run, self._of_run_diff = picks(filled("run").values()), picks(filled("run_diff").values())
        self._temps_at = {name: stage.place(name) for name in TEMP_AT if name in stage.present}
        self._of_run_of_row = picker(
            [self._diff, 0, stage.place("position"), ids.get("car", -1)]
            + [stage.place(name) for name in ("started_at", "day_order")]
        )
        self._places, self._off_targets = RowPlaces(self.bulk.connection), OffTargets(self.bulk.connection)
        self._building, self._weighing, self._driving, self._in_words = (
            _saying(tuple(stage.place(name) for name in names if name in stage.present))
            for names in (making(Build), making(Weighing), making(Run), tuple(ONCE))
        )
        self._loose = _loose_of_shape(stage.columns, stage.present)

    def has_mass(self, row: Row) -> bool:
        """Whether the row has a mass that only a build has."""
        return self._building(row)

    def make(self, line: int, note: str, date: str, row: Row, current: Current | None) -> Current:
        """Make the records of a row; ``row`` is followed by the ids of what it names and a None.

        ``current`` is the diff's build before the row, None for a row that makes one by its mass. Returns the build
        that is the current one after the row.
        """
        bulk = self.bulk
        fluid, viscosity = row[self._fluid], row[self._viscosity]
        temps_left = _NO_CELLS
        builds = self._building(row) or other_oil(current, fluid, viscosity)
        weighs = None
        if not builds and self._weighing(row):
            weighs = CLOSED_WEIGHING if row[self._total] is None else "weighing"
        drives = self._driving(row)
        is_bare = not (builds or weighs or drives)
        is_words = is_bare and self._in_words(row)
        runs = drives or is_words or (is_bare and current is not None)
        build = "build" if builds else UNKNOWN_BUILD if current is None else None
        if current is None or builds:
            basis = row[self._basis] if builds else None
            current = Current(note + BUILD, row[self._diff], date, fluid, viscosity, basis)
            origin = None if viscosity is None else "note"
            named = bulk.next_build_label(current.diff, row[self._label])
            values = (self._of_build if runs else self._of_build_alone) if builds else self._of_unknown_build
            self._add_build((current.build, line, named, origin) + values(row))  # noqa: RUF005
            self.made["builds"] += 1
            if builds and row[self._target] is not None:
                self._look_at_target(line, row)
            if builds and row[self._seals] is not None:
                self.stage.add_finding(line, "seals_in_words")
            if row[self._oil] is None and (row[self._dry] is None or row[self._total] is None):
                self.stage.add_finding(line, "fill_unknown")
        if weighs:
            if weighs is CLOSED_WEIGHING:
                weighed = (self._of_closed if runs else self._of_closed_alone)(row)
            else:
                weighed = (self._of_weighing if runs else self._of_weighing_alone)(row)
            basis_of = _basis_of(weighs, row[self._basis], current)
            self._add_weighing((note + WEIGHING, line, current.build) + basis_of + weighed)  # noqa: RUF005
            self.made["weighings"] += 1
            self.weighings_only += not (runs or build)
        if runs:
            run = note + RUN
            of_run = self._of_run(row)
            if is_words:
                self.stage.add_finding(line, "words_only")
            elif is_bare:
                of_run = (*of_run[:_RUNS], 0.0, *of_run[_RUNS + 1 :])
            self._add_run((run, line, bulk.next_run_label(date)) + of_run)  # noqa: RUF005
            of_run_diff, temp_place = self._of_run_diff(row), None
            if self._temps_at:
                of_run_diff, temp_place, temps_left = self._with_temperature(line, row, of_run_diff)
            self._add_run_diff((note + RUN_DIFF, line, run, current.build, temp_place) + of_run_diff)  # noqa: RUF005
            self.made["runs"] += 1
        names, left_of, leaves_any = self._loose[build, weighs, "run" if runs else None]
        if self._must_exist or temps_left or leaves_any(row):
            left = zip(names, left_of(row), strict=True)
            beside = temps_left | {name: value for name, value in left if value is not None}
            if "seals" in beside:
                self.stage.add_finding(line, "seals_beside")
            for name, label, row_id in self._must_exist:
                if row[label] is not None and row[row_id] is None:
                    beside[name] = row[label]
                    self.stage.add_finding(line, MUST_EXIST[name])
            if beside:
                self._keep_loose(line, beside)
        return current

    def _look_at_target(self, line: int, row: Row) -> None:
        """Say of a fill that has a target where its oil is too far from that."""
        masses = (row[place] for place in (self._oil, self._dry, self._total))
        fill = FillOfRow(row[self._diff], row[self._scale], row[self._kind], row[self._target], fill_g(*masses))
        if self._off_targets.holds(fill):
            self.stage.add_finding(line, "oil_beside_target")

    def _with_temperature(self, line: int, row: Row, of_run_diff: Row) -> tuple[Row, str | None, dict[str, Any]]:
        """A diff in a run with its temperature from the column of its place, that place, and the cells that are left.

        Left is what is of another place, or of a place that may be another; and what the row says twice.
        """
        cells = {name: row[place] for name, place in self._temps_at.items() if row[place] is not None}
        if not cells:
            return of_run_diff, None, cells
        own = self._places.own_temperature(cells, RunOfRow(*self._of_run_of_row(row)))
        if own.others:
            self.stage.add_finding(line, "place_unknown" if own.place is None else "other_place")
        if own.temp_c is None:
            return of_run_diff, None, own.others
        if of_run_diff[_DIFF_TEMP] is not None:
            return of_run_diff, None, cells
        with_it = (*of_run_diff[:_DIFF_TEMP], own.temp_c, *of_run_diff[_DIFF_TEMP + 1 :])
        return with_it, own.place, own.others

    def _keep_loose(self, line: int, left: dict[str, Any]) -> None:
        """Keep the cells of a record that the row does not make."""
        self._extras.append((line, json.dumps(left)))
        if len(self._extras) >= PLACED_ROWS:
            self.keep_extras()

    def keep_extras(self) -> None:
        """Give the collected cells to the stage."""
        self.stage.add_extras(self._extras)
        self._extras.clear()


def _basis_of(weighing: str, said: str | None, current: Current) -> Row:
    """What was on the scale for a weighing, and what in its row said so; without that it is as for its build."""
    if weighing is CLOSED_WEIGHING:
        return (CLOSED, CLOSED_MASS) if said is None else (said, CLOSED_MASS_WRITTEN)
    return (current.mass_basis, None) if said is None else (said, WRITTEN)


def other_oil(current: Current | None, fluid: str | None, viscosity: float | None) -> bool:
    """Whether a row has an oil other than that of the diff's current build."""
    if current is None:
        return fluid is not None or viscosity is not None
    return (fluid is not None and fluid != current.fluid) or (
        viscosity is not None and viscosity != current.viscosity_cst
    )


class Placing(RowMaker):
    """Places the staged rows of a file; ``added`` and ``known`` count the rows.

    ``diffs`` are the diffs (by id) to which anything was added. ``elsewhere`` are lines whose row is held under another
    id (without its last digit), or is not to be brought back (an empty id).
    """

    stage: Stage

    def __init__(self, stage: Stage, bulk: Bulk, elsewhere: Mapping[int, str] | None = None) -> None:
        super().__init__(stage, bulk)
        self._elsewhere = elsewhere or {}
        self.added = 0
        self.known = 0
        self.fills = 0
        self.diffs: set[str] = set()
        self.named_diffs: dict[str, str] = {}
        """The diffs that rows name where it is one with others, by what the ids of the row's records begin with."""
        self._current: dict[str, Current] = {}
        self._with_ids = _adding_ids({name: (stage.place(name), bulk.names(REFERRED[name])) for name in self.named})

    def run(self, progress: Callable[[int], None] | None = None) -> None:
        """Place all rows."""
        stage, bulk = self.stage, self.bulk
        is_of_builds = set(stage.present) <= set(filled("build").values()) and not self._must_exist
        fills_only = self._oil >= 0 and not bulk.holds_notes and is_of_builds and self._seals < 0
        if fills_only and not self._elsewhere and "oil_mass_g" not in stage.with_gaps:
            self._fill_in_blocks(progress)
            return
        for count, ((line, row, note, occurrence), known) in enumerate(self._looked_up(), 1):
            if occurrence:
                stage.add_finding(line, "duplicate_row")
            if not note:
                self.known += 1
            elif fills_only and row[self._oil] is not None:
                self._fill(line, note, row[0], row)
            elif known is not None:
                self._meet_again(known)
            else:
                self._place(line, note, row[0], row)
            if count % _WRITTEN_ROWS == 0:
                bulk.flush()
                if progress and count % PLACED_ROWS == 0:
                    progress(count)
        bulk.flush()
        self.keep_extras()
        self.made["builds"] += self.fills
        self.added += self.fills

    def look_up_names(self) -> None:
        """Look up what the new rows name, and place nothing: the bulk then has the names that it would add."""
        for (line, row, note, _), known in self._looked_up():
            if note and known is None:
                self.bulk.line = line
                self._with_ids(row)

    def _looked_up(self) -> Iterator[tuple[StagedNote, Known | None]]:
        """The staged rows, each with what the database holds of it before this import."""
        rows = notes_of(self.stage)
        if elsewhere := self._elsewhere:
            rows = (one._replace(note=elsewhere[one.line]) if one.line in elsewhere else one for one in rows)
        return self._with_known(rows) if self.bulk.holds_notes else zip(rows, repeat(None), strict=False)

    def _with_known(self, rows: Iterator[StagedNote]) -> Iterator[tuple[StagedNote, Known | None]]:
        while some := list(islice(rows, LOOKED_UP_ROWS)):
            yield from zip(some, self.bulk.known([one.note for one in some]), strict=True)

    def _fill(self, line: int, note: str, day: str, row: Row) -> None:
        """The short way for a row that only makes a build: no run, and no other build to check."""
        bulk = self.bulk
        bulk.line = line
        row = self._with_ids(row)
        build, diff, viscosity = note + BUILD, row[self._diff], row[self._viscosity]
        self._current[diff] = Current(build, diff, day, row[self._fluid], viscosity, row[self._basis])
        named = bulk.next_build_label(diff, row[self._label])
        origin = None if viscosity is None else "note"
        self._add_build((build, line, named, origin) + self._of_build_alone(row))  # noqa: RUF005
        if row[self._target] is not None:
            self._look_at_target(line, row)
        self.fills += 1
        self.diffs.add(diff)

    def _fill_in_blocks(self, progress: Callable[[int], None] | None) -> None:
        """The shortest way, column by column, where every row makes a build and nothing else, as :meth:`_fill` does."""
        stage, bulk, count = self.stage, self.bulk, 0
        notes_of_block = NotesInBlocks(stage)
        for block in stage.in_blocks(_WRITTEN_ROWS):
            lines, rows = zip(*block, strict=True)
            columns = list(zip(*rows, strict=True))
            notes, occurrences = notes_of_block.of(columns[0], rows)
            for line in compress(lines, occurrences):
                stage.add_finding(line, "duplicate_row")
            columns += self._ids_of_block(lines, rows, columns)
            columns.append((None,) * len(lines))
            diffs, viscosities = columns[self._diff], columns[self._viscosity]
            build = {
                "id": [note + BUILD for note in notes],
                "note_line": lines,
                "label": bulk.next_build_labels(diffs, columns[self._label]),
                "viscosity_from": [None if one is None else "note" for one in viscosities],
            }
            bulk.write("build", build | {column: columns[place] for column, place in self._build_columns.items()})
            if self._target >= 0:
                for line, row in zip(lines, zip(*columns, strict=True), strict=True):
                    if row[self._target] is not None:
                        self._look_at_target(line, row)
            self.diffs.update(diffs)
            count += len(lines)
            if progress and count % PLACED_ROWS == 0:
                progress(count)
        self.made["builds"] += count
        self.added += count

    def _ids_of_block(self, lines: Sequence[int], rows: Sequence[Row], columns: Sequence[Sequence[Any]]) -> list[Any]:
        """The ids of what the rows of a block name, as columns; what is not there yet is added, row by row."""
        names = {name: self.bulk.names(REFERRED[name]) for name in self.named}
        of_column = {name: columns[self.stage.place(name)] for name in self.named}
        wanted = list(range(len(rows)))
        if "bottle" not in names:
            new = {name: set(cells) - names[name].keys() for name, cells in of_column.items()}
            wanted = sorted({n for name, some in new.items() if some for n in _places(of_column[name], some)})
        found = []
        for place in wanted:
            self.bulk.line = lines[place]
            found.append(self._with_ids(rows[place])[len(rows[place]) : -1])
        if "bottle" in names:
            return list(zip(*found, strict=True))
        return [list(map(names[name].__getitem__, of_column[name])) for name in names]

    def _meet_again(self, known: Known) -> None:
        """A row that is already in the database: only its build matters for the rows after it."""
        self.known += 1
        if known.build:
            self._current[known.build.diff] = known.build

    def counts(self) -> dict[str, int]:
        """How many records were made, by kind."""
        return {name: self.made[name] for name in ("builds", "weighings", "runs") if self.made[name]}

    def _place(self, line: int, note: str, date: str, row: Row) -> None:
        self.bulk.line = line
        row = self._with_ids(row)
        diff = row[self._diff]
        self.added += 1
        self.diffs.add(diff)
        current = None if self.has_mass(row) else self._current_of(diff, date)
        self._current[diff] = self.make(line, note, date, row, current)
        if self.bulk.joined_diffs and (named := self.bulk.joined_diffs.get(folded_label(row[self._label]))):
            self.named_diffs[note] = named

    def keep_named_diffs(self) -> None:
        """Once the rows are on their builds: keep of which diff those are that name one of several that are one."""
        for kind, digit in (("weighing", WEIGHING), ("run_diff", RUN_DIFF)):
            diffs = {f"{note}{digit}": diff for note, diff in self.named_diffs.items()}
            keep_named_diffs(self.bulk.connection, BY_NAME[kind], diffs)

    def _current_of(self, diff: str, date: str) -> Current | None:
        """The later of this file's build and the one in the database."""
        here = self._current.get(diff)
        if not self.bulk.holds_builds:
            return here
        held = self.bulk.current(diff, date)
        if here and (held is None or held.day <= here.day):
            return here
        return held
