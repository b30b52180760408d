"""Views: what people, pages and plugins query in SQL. They only join records and facts; none computes anything.

They hold no data: the store recreates one whose text differs from the file's. A number that is not a plain column of a
table is given its type: without one SQLite compares it with text, as which a page hands over 14.3 or -1, and finds
nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import Field, Filling, field_of, fields_of
from bevelbook.declare.vocabulary import CLOSED_MASS, CLOSED_MASS_WRITTEN, POSITIONS, WRITTEN
from bevelbook.facts.answered_results import answered_sql
from bevelbook.facts.lap_times import best_five_sql, best_lap_sql, laps_from_sql
from bevelbook.facts.masses import masses_sql
from bevelbook.facts.parts import PART_RUNS_SQL
from bevelbook.facts.places import PLACE, PLACE_FROM
from bevelbook.facts.sql import SQL_TYPE
from bevelbook.records import KINDS, Order
from bevelbook.records.building import Build, Weighing
from bevelbook.records.facts import BuildFacts, DiffFacts
from bevelbook.records.kept_file_names import called_file_sql
from bevelbook.records.note_row import NoteRow
from bevelbook.records.track import Run, RunDiff

LATEST_FIRST: Final = "version DESC, calculated_at DESC, id DESC"
"""Orders kept calculations of one calculator and record, the valid one first."""


class View(NamedTuple):
    """A view with its purpose and the words of its columns; ``facets`` and ``order`` are how a page shows it.

    ``key`` are the columns in which no two of its rows are equal. A view of unions that no column keeps apart has all
    its columns as its key: rows that are equal in every one may change places unseen. ``fields`` are the fields of
    columns that no record has under that name.
    """

    name: str
    title: str
    about: str
    sql: str
    columns: dict[str, str]
    key: tuple[str, ...]
    facets: tuple[str, ...] = ()
    order: Order | None = None
    fields: Mapping[str, Field] = MappingProxyType({})


def _said_of(facts: type[Any], *names: str) -> dict[str, str]:
    """Words of fact columns, for views that join them under the same names."""
    return {name: field_of(facts, name).described() for name in names}


def _typed(sql: str, columns: Iterable[str], types: Mapping[str, str]) -> str:
    """The same rows, with a type for those columns that have one in ``types``.

    Around the whole SELECT, so that what is inside it still finds its indexes.
    """
    typed = ", ".join(f'CAST("{name}" AS {types[name]}) AS "{name}"' if name in types else name for name in columns)
    return f"SELECT {typed} FROM ({sql.strip()})"


LATEST_CALCULATIONS: Final = View(
    "latest_calculations",
    "Latest calculations",
    "The last row of the newest version for each calculator and subject",
    f"""
SELECT * FROM (
    SELECT calculations.*,
           CAST(row_number() OVER (
               PARTITION BY calculator, subject_table, subject_id ORDER BY {LATEST_FIRST}
           ) AS INTEGER) AS place
    FROM calculations
) WHERE place = 1
""",
    {"place": "Always 1", "version": "Version of the calculator"},
    key=("id",),
    order=Order("calculated_at", newest_first=True),
)

CURRENT_BUILDS: Final = View(
    "current_builds",
    "Current builds",
    "The last build of each diff",
    "SELECT builds.* FROM diff_facts CROSS JOIN builds ON builds.id = diff_facts.current_build",
    {},
    key=("id",),
    order=Order("built_on", newest_first=True),
)

_BY_DAY: Final = "likelihood(r.run_on >= '', 0.01)"
"""True of every run. With it SQLite goes through runs by their days where the newest are wanted first, and no further
than a page of them; without it, it reads and sorts all."""

BUILD_RUNS: Final = View(
    "build_runs",
    "Runs of builds",
    "Each run of each build with the runs it had before and after; a run without a count is one",
    f"""
SELECT x.id AS run_diff, x.build, x.run, r.run_on, r.day_order, CAST(n.runs_after - n.runs_before AS REAL) AS runs,
       n.runs_after
FROM run_diffs x JOIN run_diff_facts n ON n.run_diff = x.id JOIN runs r ON r.id = x.run
WHERE {_BY_DAY}
""",
    {
        "run_diff": "The diff in the run",
        "build": "The build",
        "runs": "Runs in the row",
        "runs_after": "Runs of the build after this one",
    },
    key=("run_diff",),
    order=Order("run_on", newest_first=True),
)

_PART_RUNS: Final = ("build", "diff", "part", "place", "mark", "since_build", "from_new", "uses", "runs")

PART_RUNS: Final = View(
    "part_runs",
    "Runs per part",
    "Seals and other parts in each build, with their uses and runs since they were new",
    _typed(PART_RUNS_SQL, _PART_RUNS, {"uses": "INTEGER", "runs": "REAL"}),
    {
        "build": "The build",
        "part": "Part; a seal or one of the parts fitted",
        "place": "Where it sits",
        "mark": "What marks this piece",
        "since_build": "The build in which it was first in this place",
        "from_new": "Whether it was noted as new; else it is counted since it was first noted",
        "uses": "Builds that it was closed in, including this one",
        "runs": "Its runs up to the end of this build",
    },
    key=("build", "part", "place", "mark", "since_build", "from_new", "uses", "runs"),
)

_MASSES: Final = {
    "build": "The build",
    "mass_basis": "What was on the scale",
    "runs": "Runs since the build; empty if it is unknown when it was taken",
    "day": "Day",
    "mass_g": "Reading [g]",
    "taken": "When it was taken",
    "scale": "The scale; that of the build if none is noted",
    "step": "Order of masses taken at the same number of runs",
    "sister_mass_g": "An empty housing of the same kind, weighed alongside [g]",
}

_TYPES_OF_MASSES: Final = {
    "runs": "REAL",
    "mass_g": "REAL",
    "scale": "TEXT",
    "step": "INTEGER",
    "sister_mass_g": "REAL",
}
"""Each column has one type in every SELECT of the union: SQLite then reads each of them in the order of builds and no
further than a page needs."""

MASSES: Final = View(
    "masses",
    "Masses",
    "Every mass of every build in the order of its runs, with what was on the scale; only equal bases are compared",
    "\nUNION ALL\n".join(_typed(one, _MASSES, _TYPES_OF_MASSES) for one in masses_sql()),
    _MASSES,
    key=("build", "mass_basis", "runs", "day", "mass_g", "taken", "scale", "step", "sister_mass_g"),
    fields={"day": field_of(Weighing, "weighed_on")},
)

LOSSES: Final = View(
    "losses",
    "Oil lost",
    "First and last mass of each build that was weighed twice on one basis, what is missing, and the verdict",
    """
SELECT build, weighed_as, weighings, first_mass_g, last_mass_g, weighed_at_runs, loss_g, loss_uncertainty_g, oil_in_g,
       caution_g, stop_g, limit_from, leak, weighings_apart, opened_on, leak_place
FROM build_facts WHERE leak IS NOT NULL
""",
    _said_of(BuildFacts, "weighings_apart", "opened_on", "leak_place"),
    key=("build",),
    facets=("leak", "limit_from"),
)

SHELF: Final = View(
    "shelf",
    "Shelf",
    "Each diff: where it is, its oil, what it has lost, how it feels, ready or not",
    """
SELECT s.diff, d.label, d.mark, s.word, s.reasons, s.current_build AS build, b.label AS build_label, b.built_on,
       s.position, f.label AS fluid,
       k.viscosity_cst, k.viscosity_from, k.oil_in_g, k.loss_g, k.loss_uncertainty_g, k.leak, k.weighed_as,
       k.weighed_at_runs, k.weighings_apart, k.caution_g, k.stop_g, k.limit_from,
       CAST(coalesce(k.runs, 0.0) AS REAL) AS runs, s.limit_runs, s.seal_uses, s.limit_seal_uses,
       b.hand_feel, k.good_until_runs
FROM diff_facts s CROSS JOIN diffs d ON d.id = s.diff
LEFT JOIN builds b ON b.id = s.current_build
LEFT JOIN build_facts k ON k.build = s.current_build
LEFT JOIN fluids f ON f.id = b.fluid
ORDER BY d.label, s.diff
""",
    {
        **_said_of(DiffFacts, "position", "reasons"),
        **_said_of(BuildFacts, "viscosity_cst", "viscosity_from", "weighings_apart"),
        "runs": "Runs of its last build since it was filled [runs]",
        "label": "The diff",
        "mark": "What marks its case",
        "build_label": "Its last build",
        "fluid": "Oil by its label",
        "hand_feel": "How it turned by hand",
    },
    key=("diff",),
    facets=("word",),
    order=Order("label"),
)

BUILD_SHEET: Final = View(
    "build_sheet",
    "Build sheet",
    "Builds with names instead of ids, what they lost, and the latest verdicts",
    f"""
SELECT b.id AS build, b.label, d.label AS diff, b.built_on, b.kind, p.name AS builder, f.label AS fluid,
       bo.lot AS bottle, k.viscosity_cst, b.dry_mass_g, k.oil_in_g, b.filled_mass_g, b.closed_mass_g, b.mass_basis,
       b.squeeze_out, b.hand_feel, k.runs, k.loss_g, k.leak, k.opened_on,
       (SELECT group_concat(said, '; ') FROM (
            SELECT calculator || ': ' || verdict AS said, row_number() OVER (
                       PARTITION BY calculator ORDER BY {LATEST_FIRST}) AS place
            FROM calculations c
            WHERE subject_table = 'builds' AND subject_id = b.id AND NOT {answered_sql("k.leak IS NOT NULL")}
        ) WHERE place = 1) AS verdicts,
       b.note
FROM builds b
JOIN build_facts k ON k.build = b.id
JOIN diffs d ON d.id = b.diff
LEFT JOIN people p ON p.id = b.builder
LEFT JOIN fluids f ON f.id = b.fluid
LEFT JOIN bottles bo ON bo.id = b.bottle
""",
    {
        **_said_of(BuildFacts, "viscosity_cst", "runs", "opened_on"),
        "label": "The build",
        "diff": "The diff",
        "builder": "Who built it",
        "fluid": "Oil by its label",
        "bottle": "Lot of the bottle",
        "verdicts": "Latest verdict of each calculator that was kept; for oil lost of a weighed build see leak",
    },
    key=("build",),
    facets=("diff", "fluid"),
    order=Order("built_on", newest_first=True),
)

WHAT_WORKED: Final = View(
    "what_worked",
    "What worked",
    "Each diff in each run: conditions, oil, how it went, and whether the diff was known to be full",
    f"""
SELECT x.id AS run_diff, r.id AS run, r.run_on, r.day_order, v.name AS venue, v.surface, r.grip, r.grip_trend,
       r.track_temp_c, r.air_temp_c, x.diff_temp_c, x.position, d.label AS diff, x.build, b.label AS build_label,
       f.label AS fluid, k.viscosity_cst, n.viscosity_at_diff_temperature_cst, {best_five_sql()} AS best_five_s,
       {best_lap_sql()} AS best_lap_s, r.forward_drive, r.side_bite, r.call, r.note, n.runs_before, n.fill_state,
       {PLACE} AS place, {PLACE_FROM} AS place_from, {laps_from_sql()}
FROM run_diffs x
JOIN runs r ON r.id = x.run
JOIN builds b ON b.id = x.build
JOIN diffs d ON d.id = b.diff
JOIN run_diff_facts n ON n.run_diff = x.id
JOIN build_facts k ON k.build = x.build
LEFT JOIN venues v ON v.id = r.venue
LEFT JOIN fluids f ON f.id = b.fluid
WHERE {_BY_DAY}
""",
    {
        **_said_of(BuildFacts, "viscosity_cst"),
        "run_diff": "The diff in the run",
        "venue": "Where",
        "surface": "What the track is made of",
        "diff": "The diff",
        "build_label": "The build",
        "fluid": "Oil by its label",
        "best_five_s": "Mean of the best five laps: as written with the run, else worked out of the laps listed there",
        "best_lap_s": "Best lap: as written with the run, else the least of the laps listed there",
        "best_five_from": "Whether that mean is written with the run or worked out of its laps",
        "best_lap_from": "Whether that lap is written with the run or the least of its laps",
        "place": "Where in the car: as written with the run, else where the diff usually runs",
        "place_from": "Whether that place is written with the run or is the usual one of the diff",
    },
    key=("run_diff",),
    facets=("venue", "grip", "call", "fill_state"),
    order=Order("run_on", newest_first=True),
)

_ON_LINE: Final = "{0}.note_file = {1}.note_file AND {0}.note_line = {1}.note_line"
_ALIASES: Final[dict[type[Any], str]] = {Build: "b", Weighing: "w", Run: "r", RunDiff: "rd"}
_NOTES_OF: Final = "coalesce(r.note, w.note, b.note)"
"""A note that was added by hand to a record from a row is shown with that row."""


_IS_CLOSED: Final = f"w.basis_from IN ('{CLOSED_MASS}', '{CLOSED_MASS_WRITTEN}')"
_IS_WRITTEN: Final = f"w.basis_from IN ('{WRITTEN}', '{CLOSED_MASS_WRITTEN}')"
_WEIGHED: Final = {
    "total_mass_g": f"coalesce(iif({_IS_CLOSED}, NULL, w.mass_g), b.filled_mass_g)",
    "closed_mass_g": f"coalesce(iif({_IS_CLOSED}, w.mass_g, NULL), b.closed_mass_g)",
    "mass_basis": f"coalesce(iif({_IS_WRITTEN}, w.mass_basis, NULL), b.mass_basis)",
}
"""The masses of a weighing as the columns of its row."""
_TEMPERATURES: Final = {
    "diff_temp_c": "iif(rd.temp_place IS NULL, rd.diff_temp_c, NULL)",
    **{f"{place}_diff_temp_c": f"iif(rd.temp_place = '{place}', rd.diff_temp_c, NULL)" for place in POSITIONS},
}
"""The first temperature of a diff in a run as the columns of its row."""


_ROOT: Final = "iif(n.build NOT NULL, b.{b}, iif(n.weighing NOT NULL, w.{w}, r.{r}))"
"""What the record that the row was read as first has: its build, else its weighing, else its run."""


def _note_cell(column: Field, filling: Filling) -> str:
    """The value that the records of a row have for one of its columns, before an id becomes a name."""
    held = {_ALIASES[owner]: name for owner, name in filling.fills}
    if column.name in _WEIGHED:
        return _WEIGHED[column.name]
    if column.name in _TEMPERATURES:
        return _TEMPERATURES[column.name]
    if column.name == "result_note":
        return _NOTES_OF
    if filling.of_build:
        return f"c.{held['b']}"
    if {"b", "w", "r"} <= held.keys():
        return _ROOT.format(**held)
    cells = [f"{alias}.{name}" for alias, name in held.items()]
    return cells[0] if len(cells) == 1 else f"coalesce({', '.join(cells)})"


def _note_rows(root: str, joins: str, made: str, where: str = "") -> str:
    """The rows that made the record ``root``: its file and line, what they made and the build of their
    diff at the time."""
    build, weighing = ("b.id", "w.id") if root == "b" else ("NULL", "w.id" if root == "w" else "NULL")
    of = {"b": "b.id", "w": "w.build", "r": "d.build"}[root]
    runs = "" if root == "r" else f" LEFT JOIN runs r ON {_ON_LINE.format('r', root)}"
    return f"""
    SELECT {root}.note_file, {root}.note_line AS line, {made} AS made, {build} AS build, {weighing} AS weighing,
           r.id AS run, d.id AS run_diff, {of} AS of
    FROM {joins}{runs} LEFT JOIN run_diffs d ON d.run = r.id AND {_ON_LINE.format("d", "r")}
    WHERE {root}.note_file NOT NULL{where}"""


def _notes_sql() -> str:
    """Every row of notes: which records it made, and what those have in its columns. A number that is not a plain
    column is given its type."""
    selected, named = [], []
    for column in fields_of(NoteRow):
        filling = column.filling
        assert filling is not None
        cell = _note_cell(column, filling)
        if filling.named is not None:
            kind = next(kind for kind in KINDS if kind.cls is filling.named)
            alias = f"of_{column.name}"
            named.append(f"LEFT JOIN {kind.table} {alias} ON {alias}.id = {cell}")
            cell = f"{alias}.{kind.label}"
        if "(" in cell and column.kind in SQL_TYPE:
            cell = f"CAST({cell} AS {SQL_TYPE[column.kind]})"
        selected.append(cell if cell.endswith(f".{column.name}") else f"{cell} AS {column.name}")
    joined = {one: f" LEFT JOIN {table} {one} ON {{}}" for one, table in (("b", "builds"), ("w", "weighings"))}
    rows = "\n    UNION ALL".join(
        (
            _note_rows("b", f"builds b{joined['w'].format(_ON_LINE.format('w', 'b'))}", _MADE.format("build")),
            _note_rows(
                "w",
                f"weighings w{joined['b'].format(_ON_LINE.format('b', 'w'))}",
                _MADE.format("weighing"),
                " AND b.id IS NULL",
            ),
            _note_rows(
                "r",
                f"runs r{joined['b'].format(_ON_LINE.format('b', 'r'))}{joined['w'].format(_ON_LINE.format('w', 'r'))}",
                "'run'",
                " AND b.id IS NULL AND w.id IS NULL",
            ),
        )
    )
    return f"""
SELECT {called_file_sql("nf")} AS file, CAST(n.line AS INTEGER) AS line, n.note_file, {", ".join(selected)},
       n.made, b.id AS build, w.id AS weighing, r.id AS run
FROM ({rows}
) n JOIN note_files nf ON nf.id = n.note_file
LEFT JOIN builds b ON b.id = n.build
LEFT JOIN weighings w ON w.id = n.weighing
LEFT JOIN runs r ON r.id = n.run
LEFT JOIN run_diffs rd ON rd.id = n.run_diff
LEFT JOIN builds c ON c.id = n.of
{chr(10).join(named)}
"""


_MADE: Final = "iif(r.id IS NULL, '{0}', '{0} and run')"

IMPORTED_NOTES: Final = View(
    "imported_notes",
    "Imported notes",
    "Each accepted note row in the canonical columns, with its file and line and the records that it made",
    _notes_sql(),
    {
        "file": "File it came from",
        "line": "Line in that file",
        **{column.name: column.described() for column in fields_of(NoteRow)},
        "builder": "Who built or wrote it down",
        "diff": "The diff",
        "fluid": "Oil by its label; of the diff's build at the time if the row does not say",
        "viscosity_cst": "Viscosity at 25 °C [cSt], in the same way",
        "venue": "Where",
        "result_note": "Note",
        "made": "What the row became",
        "build": "The build that it made",
        "weighing": "The weighing that it made",
        "run": "The run that it made",
    },
    key=("note_file", "line"),
    facets=("file", "made"),
    order=Order("date", newest_first=True),
    fields={column.name: column for column in fields_of(NoteRow)},
)

VIEWS: Final = (
    LATEST_CALCULATIONS,
    CURRENT_BUILDS,
    BUILD_RUNS,
    PART_RUNS,
    MASSES,
    LOSSES,
    SHELF,
    BUILD_SHEET,
    WHAT_WORKED,
    IMPORTED_NOTES,
)


def view_sql() -> tuple[str, ...]:
    """CREATE VIEW of every view, each after the ones it uses."""
    return tuple(f"CREATE VIEW {view.name} AS {view.sql.strip()}" for view in VIEWS)
