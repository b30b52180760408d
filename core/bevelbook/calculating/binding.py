"""Where a calculator's inputs come from: columns of a chosen record and of the records it refers to."""

from __future__ import annotations

import sqlite3
from collections import deque
from collections.abc import Iterator, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.calculating.named_origins import is_named_origin, named_origin_in_words
from bevelbook.declare.errors import DeclarationError
from bevelbook.facts.builds import oldest_first
from bevelbook.facts.fill_off_target import HAS_TARGET, OFF_TARGET_G
from bevelbook.facts.in_turn import DOUBTFUL_SQL
from bevelbook.facts.in_turn import NAMES as IN_TURN
from bevelbook.facts.measured_diffs import MEASURED_DIFFS
from bevelbook.facts.oil import OIL_KNOWN_FROM, OWN_MEASUREMENT, VISCOSITY_OF_BOTTLE
from bevelbook.facts.runs import RUN_ORDER, RUNS_OF_A_RUN
from bevelbook.formulas.left_out import NO_GRIP, NO_OIL, NO_TEMPERATURE, RunsLeftOut
from bevelbook.records import BY_NAME, BY_TABLE, FACTS, Kind
from bevelbook.store.schema import literal, quoted

SUBJECTS: Final = ("build", "run_diff", "diff", "bottle", "fluid", "seal_fitting", "scale", "weighing", "opening")
"""The kinds of record that a calculator can be run for, in the order they are tried."""

_BOTTLE_FIRST: Final = {
    column: tuple(f"{table}.{name}" for table in OIL_KNOWN_FROM if name in BY_TABLE[table].columns)
    for name in ("viscosity_cst", "density_g_cm3")
    for column in (f"builds.{name}", f"fluids.{name}")
}
_FIRST_OF: Final = {
    **_BOTTLE_FIRST,
    "builds.target_oil_mass_g": ("builds.target_oil_mass_g", "build_facts.oil_in_g"),
    "builds.oil_mass_g": ("build_facts.oil_in_g",),
}
"""The columns that may give a value, the first that has it: oil to put in is the target, else what was put in, and that
is the fact, which follows from filled and dry mass too."""
BLOCK_ROWS: Final = 1_000
_FACTS_OF: Final = {kind.columns[0]: kind for kind in FACTS}
"""The facts of a kind of record, by its name."""
_TABLES: Final = {**BY_TABLE, **{kind.table: kind for kind in FACTS}}
_IN_WORDS: Final = {
    "bottles": OWN_MEASUREMENT,
    "fluids": "the fluid",
    "builds": "the build",
    "build_facts": "the build",
    "diff_facts": "your limit",
    "run_diff_facts": "the diff in the run",
}
USUAL_DRY: Final = "diffs.usual_dry_mass_g"
_COLUMN_IN_WORDS: Final = {"builds.target_oil_mass_g": "the target", USUAL_DRY: "the usual dry mass of the diff"}


class ListedRecords(NamedTuple):
    """The records of a subject that a listing is made of: their kind, what is needed of them, and what to do where
    there is none yet and where there are too few."""

    kind: str
    needs: str
    first: str
    another: str


class Listing(NamedTuple):
    """A listing that the store can fill. The first column is the subject's id, the others have the names of the
    listing's fields. Without a ``subject`` the rows are the whole team's."""

    subject: str | None
    about: str
    sql: str
    made_of: ListedRecords | None = None
    of: str = "m.build"
    """The column of the SQL that has the subject's id; ``{where}`` in the SQL becomes a condition on it."""
    columns: tuple[str, ...] = ()
    """The columns of the subject itself that it is made of, where no other record is needed."""
    left_out: str | None = None
    """How many records it leaves out: a key of ``_WHY``, and their number."""


_OF_PAST: Final = "w.grip IS NOT NULL AND w.track_temp_c IS NOT NULL AND w.viscosity_cst IS NOT NULL"
_WHY: Final = {"oil": NO_OIL, "temperature": NO_TEMPERATURE, "grip": NO_GRIP}
LISTINGS: Final = {
    "listings.weighings": Listing(
        "build",
        "the build's masses on the basis used for it",
        """
        SELECT m.build, m.runs, m.mass_g, scales.step_g AS scale_step_g, scales.repeatability_g, m.day,
               scales.day_to_day_g, m.sister_mass_g
        FROM build_facts k CROSS JOIN masses m ON m.build = k.build AND m.mass_basis = k.weighed_as
        LEFT JOIN scales ON scales.id = m.scale
        WHERE m.runs IS NOT NULL {where} ORDER BY m.build, m.runs, m.step, m.day
        """,
        ListedRecords(
            "weighing",
            "two weighings with runs between them and the same parts on the scale",
            "Weigh it, and again after some runs",
            "Weigh it once more the same way",
        ),
    ),
    "listings.readings": Listing(
        "run_diff",
        "the readings of the diff after the run",
        """
        SELECT m.id, m.after_run_s AS after_s, m.diff_temp_c AS temperature_c FROM run_diffs m
        WHERE m.after_run_s IS NOT NULL AND m.diff_temp_c IS NOT NULL {where}
        UNION ALL
        SELECT m.id, m.second_after_run_s, m.second_diff_temp_c FROM run_diffs m
        WHERE m.second_after_run_s IS NOT NULL AND m.second_diff_temp_c IS NOT NULL {where}
        ORDER BY 1, 2, 3
        """,
        of="m.id",
        columns=("diff_temp_c", "after_run_s", "second_diff_temp_c", "second_after_run_s"),
    ),
    "listings.scale_readings": Listing(
        "scale",
        "the scale's readings",
        """
        SELECT m.scale, m.mass_g, m.read_on AS day, m.thing FROM scale_readings m
        WHERE m.mass_g IS NOT NULL {where} ORDER BY m.scale, m.thing, m.read_on, m.place, m.id
        """,
        ListedRecords(
            "scale_reading",
            "two readings of one thing on one day",
            "Put one thing on it ten times",
            "Put it on again",
        ),
        of="m.scale",
    ),
    "listings.blend_parts": Listing(
        "build",
        "the parts of the build's blend",
        "SELECT m.build, m.viscosity_cst, m.mass_g FROM blend_parts m WHERE 1 {where} "
        "ORDER BY m.build, m.viscosity_cst, m.id",
        ListedRecords("blend_part", "the parts of the blend", "Write each down", "Write each down"),
    ),
    "listings.fills": Listing(
        None,
        "the team's fills that had a target",
        f"""
        SELECT NULL, {OFF_TARGET_G} AS difference_g, people.name AS person
        FROM builds b JOIN build_facts k ON k.build = b.id LEFT JOIN people ON people.id = b.builder
        WHERE {HAS_TARGET}
        ORDER BY {oldest_first("b")}
        """,
    ),
    "listings.at_hand": Listing(
        None,
        "the team's oils that are not used up",
        f"""
        SELECT DISTINCT NULL, {VISCOSITY_OF_BOTTLE} AS viscosity_cst
        FROM fluids f LEFT JOIN bottles bo ON bo.fluid = f.id
        WHERE coalesce(f.medium, 'oil') = 'oil' AND coalesce(bo.empty, 'no') = 'no'
              AND {VISCOSITY_OF_BOTTLE} IS NOT NULL
        ORDER BY 2
        """,
    ),
    "listings.measured_diffs": Listing(
        None,
        "the team's runs with a measured diff",
        MEASURED_DIFFS,
    ),
    "listings.past": Listing(
        None,
        "the team's runs with grip, track temperature and oil",
        f"""
        SELECT NULL, w.grip, w.track_temp_c AS temperature_c, w.viscosity_cst, w.call,
               w.run_on AS day, w.diff, w.diff_temp_c AS diff_temperature_c, w.place AS position, w.surface,
               {DOUBTFUL_SQL.format("w")} AS doubtful, w.runs_before AS runs_since_opened, w.place_from,
               w.build_label AS build, CASE WHEN k.oil_in_g > 0 THEN k.loss_g / k.oil_in_g END AS oil_lost_share,
               r.label AS run, w.note, {RUNS_OF_A_RUN} AS runs
        FROM what_worked w JOIN runs r ON r.id = w.run JOIN build_facts k ON k.build = w.build
        WHERE {_OF_PAST}
        ORDER BY {RUN_ORDER}, w.run_diff
        """,
        left_out=f"""
        SELECT CASE WHEN w.viscosity_cst IS NULL THEN 'oil' WHEN w.track_temp_c IS NULL THEN 'temperature'
                    ELSE 'grip' END AS why, sum({RUNS_OF_A_RUN})
        FROM what_worked w JOIN runs r ON r.id = w.run WHERE NOT ({_OF_PAST}) GROUP BY 1 ORDER BY 2 DESC, 1
        """,
    ),
}


class Value(NamedTuple):
    """A value with its origin in words.

    ``names_record`` says that the words name the record that the value is of, where that may be another than the one
    it is asked for: a run of an earlier build, a dry mass that still holds.
    """

    value: Any
    origin: str
    names_record: bool = False

    @property
    def known(self) -> tuple[Any, str]:
        """The value and its origin, as inputs are bound to them."""
        return self.value, self.origin

    def known_of(self, kind: str, label: str) -> tuple[Any, str]:
        """The same for the record asked about, a ``build`` ``rear-a/3``: named unless the words name their own. What is
        of that very record has no other origin.

        >>> [Value(1.86, words).known_of("build", "rear-a/3")[1] for words in ("the build", "scale")]
        ['build rear-a/3', 'scale, build rear-a/3']
        """
        if self.names_record:
            return self.known
        of_itself = self.origin.removeprefix("the ") == kind
        return self.value, f"{kind} {label}" if of_itself else f"{self.origin}, {kind} {label}"


def reachable(kind: Kind) -> dict[str, str]:
    """Tables that a kind of record refers to, each with its LEFT JOIN, nearest first."""
    joins: dict[str, str] = {kind.table: ""}
    queue = deque([kind])
    while queue:
        here = queue.popleft()
        facts = _FACTS_OF.get(here.name)
        if facts is not None:
            joins[facts.table] = f"LEFT JOIN {facts.table} ON {facts.table}.{facts.columns[0]} = {here.table}.id"
        for field in here.fields:
            if field.kind != "reference" or field.target is None or not field.followed:
                continue
            target = BY_NAME[field.target]
            if target.table not in joins:
                joins[target.table] = (
                    f"LEFT JOIN {target.table} ON {target.table}.id = {here.table}.{quoted(field.name)}"
                )
                queue.append(target)
    return joins


def bound_rows(
    connection: sqlite3.Connection, kind: Kind, columns: Sequence[str], row_id: str | None = None
) -> Iterator[tuple[str, dict[str, Value]]]:
    """For one record or for all of a kind: its id and the values of the columns that it refers to.

    ``columns`` are ``table.column`` as calculators name them in ``same_as``; one that the kind does not refer to is
    left out, and so is an empty cell. A bottle's own measurement overrides the build and the label, a target the oil
    that was put in.
    """
    joins = reachable(kind)
    wanted = [column for column in dict.fromkeys(columns) if _table(column) in joins]
    parts = [f"{kind.table}.id"]
    cells: list[tuple[str, int, int | str]] = []
    for column in wanted:
        candidates = [one for one in _FIRST_OF.get(column, (column,)) if _table(one) in joins]
        place = len(parts)
        if len(candidates) == 1:
            parts.append(_qualified(candidates[0]))
            cells.append((column, place, _in_words(candidates[0])))
        else:
            whens = " ".join(f"WHEN {_qualified(one)} IS NOT NULL THEN {literal(_in_words(one))}" for one in candidates)
            parts += [f"coalesce({', '.join(map(_qualified, candidates))})", f"CASE {whens} END"]
            cells.append((column, place, place + 1))
    where = f"WHERE {kind.table}.id = ?" if row_id else f"ORDER BY {kind.table}.id"
    sql = f"SELECT {', '.join(parts)} FROM {kind.table} {' '.join(joins.values())} {where}"
    cursor = connection.execute(sql, (row_id,) if row_id else ())
    while block := cursor.fetchmany(BLOCK_ROWS):
        for row in block:
            yield (
                row[0],
                {
                    column: Value(row[place], words if isinstance(words, str) else row[words])
                    for column, place, words in cells
                    if row[place] is not None
                },
            )


def answers(
    connection: sqlite3.Connection, listing: str, row_id: str | None = None
) -> dict[str | None, list[dict[str, Any]]]:
    """The rows of a listing by subject id, for one subject or for all; the whole team's under None."""
    source = LISTINGS[listing]
    sql = source.sql.format(where=f"AND {source.of} = :subject" if row_id else "")
    cursor = connection.execute(sql, {"subject": row_id} if row_id else {})
    names = [column[0] for column in cursor.description][1:]
    found: dict[str | None, list[dict[str, Any]]] = {}
    for row in cursor:
        found.setdefault(row[0], []).append(dict(zip(names, tuple(row)[1:], strict=True)))
    return found


def left_out(connection: sqlite3.Connection, listing: str) -> tuple[RunsLeftOut, ...]:
    """What the records leave out of a listing of the whole team, by reason, most first."""
    sql = LISTINGS[listing].left_out
    return tuple(RunsLeftOut(count, "", _WHY[why]) for why, count in connection.execute(sql)) if sql else ()


def check_same_as(same_as: str) -> None:
    """Raise DeclarationError unless ``same_as`` names a column, a listing, or something of two builds in turn."""
    if same_as in LISTINGS or same_as in IN_TURN or is_named_origin(same_as):
        return
    table, _, column = same_as.partition(".")
    if table not in _TABLES or column not in _TABLES[table].columns:
        raise DeclarationError(f"{same_as!r} is neither a column nor a listing of the store", code="same_as_unknown")


def origin_in_words(same_as: str | None) -> str:
    """Where a value of ``same_as`` comes from, for people; empty if an input has no origin.

    >>> origin_in_words("builds.dry_mass_g"), origin_in_words("diffs.screw_size"), origin_in_words(None)
    ('the build', 'the diff', '')
    """
    if same_as is None:
        return ""
    if same_as in LISTINGS:
        return LISTINGS[same_as].about
    if same_as in IN_TURN:
        return "two builds run in turn"
    if is_named_origin(same_as):
        return named_origin_in_words(same_as)
    candidates = _FIRST_OF.get(same_as, (same_as,))
    words = (_COLUMN_IN_WORDS.get(one) or _IN_WORDS.get(_table(one)) or f"the {_in_words(one)}" for one in candidates)
    return ", else ".join(dict.fromkeys(words))


def holders(same_as: str | None) -> list[tuple[str, str]]:
    """The tables and columns that give a value of ``same_as``, the one that it names first; none of a listing.

    >>> holders("builds.dry_mass_g"), holders("listings.weighings"), holders(None)
    ([('builds', 'dry_mass_g')], [], [])
    """
    if same_as is None or same_as in LISTINGS or same_as in IN_TURN or is_named_origin(same_as):
        return []
    named = dict.fromkeys((same_as, *_FIRST_OF.get(same_as, ())))
    return [(_table(one), one.partition(".")[2]) for one in named]


def _table(column: str) -> str:
    return column.partition(".")[0]


def _in_words(column: str) -> str:
    table = _table(column)
    return _COLUMN_IN_WORDS.get(column) or _IN_WORDS.get(table) or BY_TABLE[table].name.replace("_", " ")


def _qualified(column: str) -> str:
    table, _, name = column.partition(".")
    return f"{table}.{quoted(name)}"
