"""Views: the saved questions that people and pages ask. They hold no data and are made anew with every migration."""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.store.counting import BUILD_COUNTS_SQL, PART_RUNS_SQL


class View(NamedTuple):
    """A view with what it is for and what its columns say."""

    name: str
    title: str
    about: str
    sql: str
    columns: dict[str, str]


LATEST_CALCULATIONS: Final = View(
    "latest_calculations",
    "Latest calculations",
    "Of each calculator and subject the newest version's last row",
    """
SELECT * FROM (
    SELECT calculations.*,
           row_number() OVER (
               PARTITION BY calculator, subject_table, subject_id ORDER BY version DESC, calculated_at DESC, id DESC
           ) AS place
    FROM calculations
) WHERE place = 1
""",
    {"place": "Always 1", "version": "Version of the calculator"},
)

CURRENT_BUILDS: Final = View(
    "current_builds",
    "Current builds",
    "The last build of each diff",
    """
SELECT * FROM (
    SELECT builds.*,
           row_number() OVER (
               PARTITION BY diff ORDER BY built_on DESC, note_line DESC, created_at DESC, id DESC
           ) AS place
    FROM builds
) WHERE place = 1
""",
    {"place": "Always 1"},
)

BUILD_RUNS: Final = View(
    "build_runs",
    "Runs of builds",
    "Each run of each build with the runs it had before and after; a run without a count is one",
    """
SELECT run_diffs.id AS run_diff, run_diffs.build, run_diffs.run, runs.run_on, runs.day_order,
       coalesce(runs.runs, 1) AS runs,
       sum(coalesce(runs.runs, 1)) OVER (
           PARTITION BY run_diffs.build
           ORDER BY runs.run_on, runs.day_order, runs.note_line, runs.id
           ROWS UNBOUNDED PRECEDING
       ) AS runs_after
FROM run_diffs JOIN runs ON runs.id = run_diffs.run
""",
    {
        "run_diff": "The diff in the run",
        "runs": "Runs that the row stands for",
        "runs_after": "Runs of the build when it was over",
    },
)

BUILD_COUNTS: Final = View(
    "build_counts",
    "Runs per build",
    "Each build with its place among the builds of its diff and its runs",
    BUILD_COUNTS_SQL,
    {
        "build": "The build",
        "nth": "Its place among the builds of its diff, from 1",
        "runs": "Runs of it: those written down, or those that a weighing tells, whichever is more",
    },
)

PART_RUNS: Final = View(
    "part_runs",
    "Runs per part",
    "Seals and other parts in each build, with their uses and runs since they were new",
    PART_RUNS_SQL,
    {
        "build": "The build",
        "part": "Part; a seal or one of the parts fitted",
        "place": "Where it sits",
        "mark": "What tells this piece from another",
        "since_build": "The build in which it was first in this place",
        "from_new": "Whether it was noted as new; else it is counted since it was first noted",
        "uses": "Builds that it was closed in, this one among them",
        "runs": "Its runs up to the end of this build",
    },
)


def _masses_sql(build: str = "") -> str:
    """Masses of every build, or of the build whose id stands in a column of the query around."""
    one, weighed, opened = (f" AND {column} = {build}" if build else "" for column in ("one.id", "w.build", "o.build"))
    return f"""
SELECT one.id AS build, coalesce(one.mass_basis, 'not said') AS mass_basis, 0.0 AS runs, one.built_on AS day,
       coalesce(one.filled_mass_g, one.dry_mass_g + one.oil_mass_g) AS mass_g, 'filled' AS taken, one.scale, 0 AS step
FROM builds one WHERE coalesce(one.filled_mass_g, one.dry_mass_g + one.oil_mass_g) IS NOT NULL{one}
UNION ALL
SELECT one.id, 'closed', 0.0, one.built_on, one.closed_mass_g, 'closed', one.scale, 1
FROM builds one WHERE one.closed_mass_g IS NOT NULL{one}
UNION ALL
SELECT w.build, coalesce(w.mass_basis, 'not said'),
       coalesce(w.runs, (SELECT coalesce(sum(coalesce(r.runs, 1)), 0) FROM run_diffs d JOIN runs r ON r.id = d.run
                         WHERE d.build = w.build AND r.run_on <= w.weighed_on), 0.0),
       w.weighed_on, w.mass_g, 'weighed', w.scale, 2
FROM weighings w WHERE w.mass_g IS NOT NULL{weighed}
UNION ALL
SELECT o.build, 'closed',
       coalesce((SELECT sum(coalesce(r.runs, 1)) FROM run_diffs d JOIN runs r ON r.id = d.run
                 WHERE d.build = o.build), 0.0),
       o.opened_on, o.closed_mass_g, 'before opening', o.scale, 3
FROM openings o WHERE o.closed_mass_g IS NOT NULL{opened}
"""


MASSES: Final = View(
    "masses",
    "Masses",
    "Every mass of every build in the order of its runs, with what lay on the pan; only equal bases are compared",
    _masses_sql(),
    {
        "mass_basis": "What lay on the pan",
        "runs": "Runs since the build",
        "day": "Day",
        "mass_g": "Reading [g]",
        "taken": "When it was taken",
        "step": "Order of masses taken at the same number of runs",
    },
)


_VARIANCE: Final = (
    "coalesce(scales.step_g, 0.01) * coalesce(scales.step_g, 0.01) / 12.0 "
    "+ coalesce(scales.repeatability_g, 0.0) * coalesce(scales.repeatability_g, 0.0)"
)
"""u² = step² / 12 + s² of one reading (JCGM 100:2008, F.2.2.1); a scale that is not noted counts as one of 0.01 g."""


def _losses_sql(masses: str) -> str:
    """First and last mass of each build on each basis, and what is missing between them."""
    return f"""
SELECT build, mass_basis, weighings, first_mass_g, last_mass_g, last_runs,
       round(first_mass_g - last_mass_g, 4) AS loss_g, first_variance + last_variance AS loss_variance
FROM (
    SELECT build, mass_basis,
           first_value(mass_g) OVER in_order AS first_mass_g,
           last_value(mass_g) OVER in_order AS last_mass_g,
           first_value({_VARIANCE}) OVER in_order AS first_variance,
           last_value({_VARIANCE}) OVER in_order AS last_variance,
           last_value(runs) OVER in_order AS last_runs,
           count(*) OVER (PARTITION BY build, mass_basis) AS weighings,
           row_number() OVER (PARTITION BY build, mass_basis ORDER BY runs, step, day) AS place
    FROM {masses} LEFT JOIN scales ON scales.id = scale
    WINDOW in_order AS (
        PARTITION BY build, mass_basis ORDER BY runs, step, day
        ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING
    )
) WHERE place = 1 AND weighings > 1
"""


BASIS_ORDER: Final = "last_runs DESC, weighings DESC, mass_basis = 'not said', mass_basis"
"""Which mass basis of a build speaks for it: weighed last, then weighed most often, then one that was named."""
_LOSS_OF_BUILD: Final = f"""(
    SELECT json_array(loss_g, mass_basis, last_runs, loss_variance) FROM ({_losses_sql(f"({_masses_sql('b.id')})")})
    ORDER BY {BASIS_ORDER} LIMIT 1
)"""
"""What the build ``b`` lost on the basis weighed last. Asked build by build: the views over all would be made whole."""

LOSSES: Final = View(
    "losses",
    "Oil lost",
    "First and last mass of each build on one mass basis, and what is missing between them",
    _losses_sql("masses"),
    {
        "weighings": "How many masses on this basis",
        "first_mass_g": "First mass [g]",
        "last_mass_g": "Last mass [g]",
        "last_runs": "Runs at the last mass",
        "loss_g": "First minus last [g]",
        "loss_variance": "Variance of that from the steps and repeatability of the scales [g²]; k = 2: ± 2 of its root",
    },
)


def _certainly_lost(share: str) -> str:
    """Whether a loss is over a share of the oil by all that the scale may be off (k = 2); squares stand for roots."""
    over = f"(json_extract(loss, '$[0]') - {share} * oil_mass_g)"
    return f"({over} >= 0 AND {over} * {over} >= 4.0 * json_extract(loss, '$[3]'))"


def _perhaps_lost(share: str) -> str:
    """Whether a loss may be over a share of the oil."""
    over = f"(json_extract(loss, '$[0]') - {share} * oil_mass_g)"
    return f"({over} >= 0 OR {over} * {over} <= 4.0 * json_extract(loss, '$[3]'))"


SHELF: Final = View(
    "shelf",
    "Shelf",
    "Each diff: where it is, its oil, what it has lost, how it feels, ready or not",
    f"""
SELECT diff, label, build, build_label, built_on, position, fluid, viscosity_cst, viscosity_from, oil_mass_g,
       json_extract(loss, '$[0]') AS loss_g, json_extract(loss, '$[1]') AS mass_basis,
       json_extract(loss, '$[2]') AS weighed_at_runs, runs, hand_feel,
       CASE
           WHEN build IS NULL THEN 'not built'
           WHEN opened THEN 'open'
           WHEN {_certainly_lost("0.10")} THEN 'open it'
           WHEN {_perhaps_lost("0.10")} THEN 'unclear'
           WHEN {_certainly_lost("0.05")} THEN 'look at it'
           WHEN hand_feel IN ('gritty', 'notchy', 'tight spot', 'loose', 'slipping') THEN 'look at it'
           WHEN loss IS NULL OR {_perhaps_lost("0.05")} THEN 'unclear'
           ELSE 'ready'
       END AS word
FROM (
    SELECT d.id AS diff, d.label, b.id AS build, b.label AS build_label, b.built_on,
           coalesce((SELECT rd.position FROM run_diffs rd JOIN runs r ON r.id = rd.run WHERE rd.build = b.id
                     ORDER BY r.run_on DESC, r.day_order DESC LIMIT 1), d.usual_position) AS position,
           f.label AS fluid, coalesce(bo.viscosity_cst, b.viscosity_cst, f.viscosity_cst) AS viscosity_cst,
           CASE WHEN bo.viscosity_cst IS NOT NULL THEN 'own measurement of the bottle'
                WHEN b.viscosity_cst IS NOT NULL THEN coalesce(b.viscosity_from, 'the build')
                WHEN f.viscosity_cst IS NOT NULL THEN coalesce(f.viscosity_source, 'the fluid') END AS viscosity_from,
           coalesce(b.oil_mass_g, b.filled_mass_g - b.dry_mass_g) AS oil_mass_g,
           {_LOSS_OF_BUILD} AS loss,
           coalesce((SELECT sum(coalesce(r.runs, 1)) FROM run_diffs rd JOIN runs r ON r.id = rd.run
                     WHERE rd.build = b.id), 0) AS runs,
           b.hand_feel,
           EXISTS (SELECT 1 FROM openings o WHERE o.build = b.id) AS opened
    FROM diffs d
    LEFT JOIN builds b ON b.id = (
        SELECT last.id FROM builds last WHERE last.diff = d.id
        ORDER BY last.built_on DESC, last.note_line DESC, last.created_at DESC, last.id DESC LIMIT 1)
    LEFT JOIN fluids f ON f.id = b.fluid
    LEFT JOIN bottles bo ON bo.id = b.bottle
)
ORDER BY label
""",
    {
        "label": "The diff",
        "build_label": "Its last build",
        "position": "Where it ran last, else where it usually runs",
        "fluid": "Oil by its label",
        "viscosity_cst": "Viscosity at 25 °C, of the bottle where it was measured [cSt]",
        "viscosity_from": "Where that viscosity comes from",
        "oil_mass_g": "Oil put in [g]",
        "loss_g": "Mass lost since, on one mass basis [g]",
        "mass_basis": "What lay on the pan for it",
        "weighed_at_runs": "Runs at the last weighing",
        "runs": "Runs since the build",
        "hand_feel": "How it turned by hand",
        "word": "ready, look at it, open it (5 and 10 % of the oil lost: this project's proposal), open, not built, "
        "or unclear where it was not weighed since, or where the scale cannot tell on which side of a limit it is",
    },
)

BUILD_SHEET: Final = View(
    "build_sheet",
    "Build sheet",
    "Builds with names instead of ids, what they lost, and the latest verdicts",
    f"""
SELECT b.id AS build, b.label, d.label AS diff, b.built_on, b.kind, p.name AS builder, f.label AS fluid,
       bo.lot AS bottle, coalesce(bo.viscosity_cst, b.viscosity_cst, f.viscosity_cst) AS viscosity_cst,
       b.dry_mass_g, b.oil_mass_g, b.filled_mass_g, b.closed_mass_g, b.mass_basis, b.squeeze_out, b.hand_feel,
       (SELECT sum(coalesce(r.runs, 1)) FROM run_diffs rd JOIN runs r ON r.id = rd.run WHERE rd.build = b.id) AS runs,
       json_extract({_LOSS_OF_BUILD}, '$[0]') AS loss_g,
       (SELECT o.opened_on FROM openings o WHERE o.build = b.id ORDER BY o.opened_on LIMIT 1) AS opened_on,
       (SELECT group_concat(told, '; ') FROM (
            SELECT calculator || ': ' || verdict AS told, row_number() OVER (
                       PARTITION BY calculator ORDER BY version DESC, calculated_at DESC, id DESC) AS place
            FROM calculations WHERE subject_table = 'builds' AND subject_id = b.id
        ) WHERE place = 1) AS verdicts,
       b.note
FROM builds b
JOIN diffs d ON d.id = b.diff
LEFT JOIN people p ON p.id = b.builder
LEFT JOIN fluids f ON f.id = b.fluid
LEFT JOIN bottles bo ON bo.id = b.bottle
""",
    {
        "label": "The build",
        "diff": "The diff",
        "builder": "Who built it",
        "fluid": "Oil by its label",
        "bottle": "Lot of the bottle",
        "viscosity_cst": "Viscosity at 25 °C, of the bottle where it was measured [cSt]",
        "runs": "Runs of this build",
        "loss_g": "Mass lost since, on one mass basis [g]",
        "opened_on": "Day it was opened",
        "verdicts": "Latest verdict of each calculator",
    },
)


def _latest_of(calculator: str, table: str, column: str) -> str:
    """The id of a calculator's latest row for the record whose id stands in a column of the query around."""
    return f"""(
        SELECT id FROM calculations WHERE calculator = '{calculator}' AND subject_table = '{table}'
               AND subject_id = {column} ORDER BY version DESC, calculated_at DESC, id DESC LIMIT 1)"""


WHAT_WORKED: Final = View(
    "what_worked",
    "What worked",
    "Each diff in each run: conditions, oil, how it went, and whether the diff was known to be full",
    f"""
SELECT run_diff, run, run_on, day_order, venue, surface, grip, grip_trend, track_temp_c, air_temp_c, diff_temp_c,
       position, diff, build, build_label, fluid, viscosity_cst, viscosity_at_diff_temperature_cst, best_five_s,
       best_lap_s, forward_drive, side_bite, call, note, runs_after - runs AS runs_before,
       CASE
           WHEN trend_given IS NULL THEN 'not known to be full'
           WHEN json_extract(trend_found, '$.changed_before_runs') IS NULL AND runs_after <= json_extract(trend_given,
               '$.weighings[' || (json_array_length(trend_given, '$.weighings') - 1) || '].runs') THEN 'full'
           WHEN json_extract(trend_found, '$.changed_before_runs') IS NULL THEN 'not known to be full'
           WHEN runs_after <= json_extract(trend_found, '$.changed_after_runs') THEN 'full'
           WHEN runs_after - runs < json_extract(trend_found, '$.changed_before_runs') THEN 'doubtful'
           ELSE 'had lost oil'
       END AS doubtful
FROM (
    SELECT rd.id AS run_diff, r.id AS run, r.run_on, r.day_order, v.name AS venue, v.surface, r.grip, r.grip_trend,
           r.track_temp_c, r.air_temp_c, rd.diff_temp_c, rd.position, d.label AS diff, b.id AS build,
           b.label AS build_label, f.label AS fluid,
           coalesce(bo.viscosity_cst, b.viscosity_cst, f.viscosity_cst) AS viscosity_cst,
           json_extract(c.found, '$.viscosity_at_temperature_cst') AS viscosity_at_diff_temperature_cst,
           r.best_five_s, r.best_lap_s, r.forward_drive, r.side_bite, r.call, r.note,
           coalesce(r.runs, 1) AS runs,
           (SELECT sum(coalesce(q.runs, 1)) FROM run_diffs x JOIN runs q ON q.id = x.run
            WHERE x.build = rd.build AND (q.run_on, coalesce(q.day_order, 0), coalesce(q.note_line, 0), q.id)
                  <= (r.run_on, coalesce(r.day_order, 0), coalesce(r.note_line, 0), r.id)) AS runs_after,
           t.found AS trend_found, t.given AS trend_given
    FROM run_diffs rd
    JOIN runs r ON r.id = rd.run
    JOIN builds b ON b.id = rd.build
    JOIN diffs d ON d.id = b.diff
    LEFT JOIN venues v ON v.id = r.venue
    LEFT JOIN fluids f ON f.id = b.fluid
    LEFT JOIN bottles bo ON bo.id = b.bottle
    LEFT JOIN calculations c ON c.id = {_latest_of("viscosity", "run_diffs", "rd.id")}
    LEFT JOIN calculations t ON t.id = {_latest_of("leak-trend", "builds", "b.id")}
)
""",
    {
        "run_diff": "The diff in the run",
        "venue": "Where",
        "surface": "What the track is made of",
        "diff": "The diff",
        "build_label": "The build",
        "fluid": "Oil by its label",
        "viscosity_cst": "Viscosity at 25 °C, of the bottle where it was measured [cSt]",
        "viscosity_at_diff_temperature_cst": "Viscosity at the measured temperature of the diff [cSt]; "
        "empty where that was not measured",
        "runs_before": "Runs of the build before this one",
        "doubtful": "full: weighed sound afterwards; doubtful: between the last sound and the first bad weighing; "
        "had lost oil: after the first bad one; not known to be full: not weighed",
    },
)

_NOTE_COLUMNS: Final = """
       b.dry_mass_g, b.oil_mass_g, coalesce(w.mass_g, b.filled_mass_g) AS total_mass_g, {build}.viscosity_cst,
       f.label AS fluid, v.name AS venue, rd.position, r.grip, r.track_temp_c, r.air_temp_c, rd.diff_temp_c, r.runs,
       r.call, coalesce(r.note, {build}.note, w.note) AS result_note,
       {made} AS made, b.id AS build, w.id AS weighing, r.id AS run
"""
_ON_LINE: Final = "{0}.note_file = {1}.note_file AND {0}.note_line = {1}.note_line"


def _note_branch(root: str, joins: str, builder: str, build: str, where: str, made: str) -> str:
    columns = _NOTE_COLUMNS.format(build=build, made=made)
    return f"""
SELECT nf.name AS file, {root}.note_line AS line, {root}.note_file AS note_file,
       {"b.built_on" if root == "b" else "w.weighed_on" if root == "w" else "r.run_on"} AS date,
       p.name AS builder, d.label AS diff, {columns}
FROM {joins}
JOIN note_files nf ON nf.id = {root}.note_file
LEFT JOIN people p ON p.id = {builder}
LEFT JOIN diffs d ON d.id = {build}.diff
LEFT JOIN fluids f ON f.id = {build}.fluid
LEFT JOIN venues v ON v.id = r.venue
WHERE {root}.note_file IS NOT NULL {where}
"""


_RUN_OF: Final = "LEFT JOIN runs r ON {line} LEFT JOIN run_diffs rd ON rd.run = r.id AND {rd_line}"
_NOTES_SQL: Final = (
    _note_branch(
        "b",
        f"builds b LEFT JOIN weighings w ON {_ON_LINE.format('w', 'b')} "
        + _RUN_OF.format(line=_ON_LINE.format("r", "b"), rd_line=_ON_LINE.format("rd", "r")),
        "b.builder",
        "b",
        "",
        "CASE WHEN r.id IS NULL THEN 'build' ELSE 'build and run' END",
    )
    + "UNION ALL"
    + _note_branch(
        "w",
        f"weighings w LEFT JOIN builds b ON {_ON_LINE.format('b', 'w')} JOIN builds c ON c.id = w.build "
        + _RUN_OF.format(line=_ON_LINE.format("r", "w"), rd_line=_ON_LINE.format("rd", "r")),
        "w.person",
        "c",
        "AND b.id IS NULL",
        "CASE WHEN r.id IS NULL THEN 'weighing' ELSE 'weighing and run' END",
    )
    + "UNION ALL"
    + _note_branch(
        "r",
        f"runs r LEFT JOIN builds b ON {_ON_LINE.format('b', 'r')} "
        f"LEFT JOIN weighings w ON {_ON_LINE.format('w', 'r')} "
        f"LEFT JOIN run_diffs rd ON rd.run = r.id AND {_ON_LINE.format('rd', 'r')} "
        "LEFT JOIN builds c ON c.id = rd.build",
        "r.noted_by",
        "c",
        "AND b.id IS NULL AND w.id IS NULL",
        "'run'",
    )
)

DOUBT: Final = "CASE doubtful WHEN 'full' THEN 'no' WHEN 'not known to be full' THEN 'not known' ELSE 'yes' END"
"""``what_worked.doubtful`` in the words of calculators that take runs."""

IMPORTED_NOTES: Final = View(
    "imported_notes",
    "Imported notes",
    "Each accepted note row in the canonical columns, with its file and line and the records that it made",
    _NOTES_SQL,
    {
        "file": "File it came from",
        "line": "Line in that file",
        "date": "Day",
        "builder": "Who built or wrote it down",
        "diff": "The diff",
        "total_mass_g": "Mass after oil, or weighed later [g]",
        "fluid": "Oil by its label; of the diff's build at the time where the row does not say",
        "viscosity_cst": "Viscosity at 25 °C [cSt], likewise",
        "venue": "Where",
        "result_note": "Note",
        "made": "What the row became",
        "build": "The build that it made",
        "weighing": "The weighing that it made",
        "run": "The run that it made",
    },
)

VIEWS: Final = (
    LATEST_CALCULATIONS,
    CURRENT_BUILDS,
    BUILD_RUNS,
    BUILD_COUNTS,
    PART_RUNS,
    MASSES,
    LOSSES,
    SHELF,
    BUILD_SHEET,
    WHAT_WORKED,
    IMPORTED_NOTES,
)


def view_sql() -> tuple[str, ...]:
    """CREATE VIEW of every view, in an order in which each finds the ones it uses."""
    return tuple(f"CREATE VIEW {view.name} AS {view.sql.strip()}" for view in VIEWS)
