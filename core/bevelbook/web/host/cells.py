"""One cell of a table: verdicts with a sign, names instead of ids, numbers rounded to what was measured."""

from __future__ import annotations

from collections.abc import Awaitable
from math import ceil, log10
from typing import Any, Final

from markupsafe import Markup

from bevelbook.declare.fields import Field
from bevelbook.declare.known_units import unit_said_by
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.format import decimals_of, format_number, is_share
from bevelbook.records import BY_NAME, BY_TABLE
from bevelbook.store.column_words import declared_field, field_anywhere
from bevelbook.web.host.addresses import linked, page_address, record_address
from bevelbook.web.host.cached_answers import cached_answer
from bevelbook.web.host.cells_of_json import JSON_COLUMNS, columns_in_words, json_in_digits
from bevelbook.web.host.datasette_state import state_of, team_database
from bevelbook.web.host.photographs_shown import PHOTOGRAPH, SMALL, is_shown
from bevelbook.web.host.readonly import TeamDatabase
from bevelbook.web.host.row_names import name
from bevelbook.web.host.scale_steps import scale_step_g
from bevelbook.web.host.signs import SIGN_OF, with_sign

SIGNED_COLUMNS: Final = frozenset({"verdict", "leak", "word", "fill_state"})
PICTURES: Final = "pictures"
_TABLE_BESIDE: Final = {"subject_id": "subject_table", "row_id": "table_name"}
"""The column that says to which table an id belongs, by the column of the id."""
_HASH: Final = late_pattern(r"[0-9a-f]{64}")
_UUID: Final = late_pattern(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def cell(datasette: Any, database: str, table: str | None, column: str, value: Any, row: Any) -> Any:
    """The cell as Datasette will show it; None leaves it to Datasette. May be awaited."""
    team = team_database(datasette, database) if database else None
    if team is None or value is None:
        return None
    if isinstance(value, dict):
        return _expanded(datasette, team, table, column, value)
    if isinstance(value, float):
        return _number(datasette, team, table, column, value, row)
    if isinstance(value, str):
        if column in SIGNED_COLUMNS and value in SIGN_OF:
            return with_sign(value)
        if column == "verdicts":
            return _signed(value)
        if (table, column) == ("clashes", "differing"):
            return columns_in_words(value)
        if column in JSON_COLUMNS and value[:1] in "[{":
            return json_in_digits(value, is_typed=column == "given")
        target = target_of(table, column, row)
        if target == PICTURES:
            return thumbnail_cell(datasette, team, value)
        if target and _UUID.fullmatch(value):
            return _named(datasette, team, target, value)
    return None


def _signed(verdicts: str) -> Markup:
    """``one-calculator: ok; another: caution`` with a sign before each verdict."""
    verdict_words = (one.rpartition(": ") for one in verdicts.split("; "))
    return Markup("; ").join(Markup("{}: {}").format(name, with_sign(word)) for name, _, word in verdict_words)


def target_of(table: str | None, column: str, row: Any = None) -> str | None:
    """The table that a column's ids point to."""
    field = declared_field(table, column)
    if field is not None:
        if field.kind == "reference" and field.target:
            return BY_NAME[field.target].table
        if column not in _TABLE_BESIDE:
            return None
    if column in _TABLE_BESIDE and row is not None:
        beside = _TABLE_BESIDE[column]
        found = row[beside] if beside in row.keys() else None  # noqa: SIM118
        return found if found in BY_TABLE else None
    return BY_NAME[column].table if column in BY_NAME else None


def unit_of(datasette: Any, table: str | None, column: str) -> Field | None:
    """The field that says in what unit and with how many digits a column is shown."""
    of_result = state_of(datasette).field_of_result(table, column)
    field = of_result or declared_field(table, column) or field_anywhere(column)
    if field is not None and field.is_number:
        return field
    unit = unit_said_by(column)
    return Field(column, "quantity", "", unit=unit) if unit else None


def link(datasette: Any, team: TeamDatabase, table: str, row_id: str, label: object) -> Markup:
    """A link to a row under the name that people use."""
    text = str(label) if label not in (None, "") else f"{BY_TABLE[table].name.replace('_', ' ')} {row_id[-6:]}"
    return linked(record_address(datasette, team.name, table, row_id), text)


async def thumbnail_cell(datasette: Any, team: TeamDatabase, picture: object) -> Markup | None:
    """The thumbnail of a picture in a cell, which leads to the picture; None for anything else, and where no photograph
    shows it any more."""
    if not isinstance(picture, str) or not _HASH.fullmatch(picture):
        return None
    if not await cached_answer(
        team, "shown picture", picture, lambda connection, _, row_id: is_shown(connection, row_id)
    ):
        return None
    small, large = (page_address(datasette, team.name, f"{PHOTOGRAPH}/{picture}{end}.jpg") for end in (SMALL, ""))
    shown = '<a class="thumbnail" href="{}"><img src="{}" alt="the picture" loading="lazy"></a>'
    return Markup(shown).format(large, small)


async def _named(datasette: Any, team: TeamDatabase, table: str, row_id: str) -> Markup | None:
    label = await name(team, table, row_id)
    return None if label is None else link(datasette, team, table, row_id, label)


def _expanded(datasette: Any, team: TeamDatabase, table: str | None, column: str, value: dict[str, Any]) -> Any:
    target = "note_files" if column == "note_file" else target_of(table, column)
    if target is None:
        return None
    if target == PICTURES:
        return thumbnail_cell(datasette, team, value["value"])
    if value["label"] in (None, "", value["value"]):
        return _named(datasette, team, target, value["value"])
    return link(datasette, team, target, value["value"], value["label"])


def _number(
    datasette: Any, team: TeamDatabase, table: str | None, column: str, value: float, row: Any
) -> str | Awaitable[str]:
    field = unit_of(datasette, table, column)
    if field is None:
        return f"{value:.10g}"
    if table not in BY_TABLE:
        return format_number(value, field)
    if field.unit == "g" and "scale" in row.keys() and row["scale"]:  # noqa: SIM118
        scale = row["scale"]
        return _weighed(team, scale["value"] if isinstance(scale, dict) else scale, field, value)
    return measured_text(value, field)


async def _weighed(team: TeamDatabase, scale_id: str, field: Field, value: float) -> str:
    step = await scale_step_g(team, scale_id)
    decimals = max(0, ceil(-log10(step) - 1e-9)) if step else None
    return measured_text(value, field) if decimals is None else f"{value:,.{decimals}f}"


def measured_text(value: float, field: Field) -> str:
    """A measured number: its own digits where it has at most one more than is usual, else the usual ones.

    >>> mass = Field("mass_g", "quantity", "", unit="g")
    >>> measured_text(12.4, mass), measured_text(12.423, mass), measured_text(12.4212399, mass)
    ('12.40', '12.423', '12.42')
    """
    usual = field.digits if field.digits is not None else decimals_of(field.unit)
    own = len(repr(value).partition(".")[2]) if "e" not in repr(value) and not float(value).is_integer() else 0
    return f"{value:,.{own}f}" if own == usual + 1 and not is_share(field) else format_number(value, field)
