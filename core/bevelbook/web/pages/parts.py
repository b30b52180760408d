"""What our pages are made of: figures with their units, links, tables, and sentences about builds and runs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare.errors import BevelbookError, PluginFault
from bevelbook.declare.fields import UNIT_OF_SUFFIX, Field, suffix_of
from bevelbook.display.format import SHOWN_UNIT, format_number
from bevelbook.facts.runs import count_of
from bevelbook.reports.loss_said import loss_in_cell
from bevelbook.web.host.addresses import page_address, record_address
from bevelbook.web.host.signs import with_sign

Row = Mapping[str, Any]
NOTE_LENGTH: Final = 160


class PageTable(NamedTuple):
    """A table of a page: headings (text, whether figures stand under it) and rows of cells."""

    caption: str
    headings: tuple[tuple[str, bool], ...]
    rows: tuple[tuple[Any, ...], ...]


def table(caption: str, headings: str, rows: Iterable[Sequence[Any]]) -> PageTable:
    """A table from headings in one line; one that starts with ``#`` has figures under it.

    A column that is empty in every row is left out.

    >>> table("Masses", "Build|#Mass [g]|Note", [("a/1", "14.26", None)]).headings
    (('Build', False), ('Mass [g]', True))
    """
    all_rows = [tuple(row) for row in rows]
    named = [(one.lstrip("#"), one.startswith("#")) for one in headings.split("|")]
    kept = [place for place in range(len(named)) if any(row[place] not in (None, "") for row in all_rows)]
    return PageTable(
        caption,
        tuple(named[place] for place in kept),
        tuple(tuple("" if row[place] is None else row[place] for place in kept) for row in all_rows),
    )


def figure(name: str, value: float | None, *, unit: bool = False) -> str:
    """A number as its column's name says: digits by its unit, and the unit where asked for.

    >>> figure("viscosity_cst", 7000.0, unit=True), figure("oil_mass_g", None)
    ('7,000 cSt', '')
    """
    if value is None:
        return ""
    suffix = suffix_of(name)
    field = Field(name, "quantity", "", unit=UNIT_OF_SUFFIX[suffix] if suffix else "1")
    told = format_number(value, field) if suffix else f"{value:g}"
    shown = SHOWN_UNIT.get(field.unit or "", field.unit or "") if unit else ""
    return f"{told} {shown}".strip()


def short(text: str | None, length: int = NOTE_LENGTH) -> str:
    """The beginning of a note, on one line."""
    told = " ".join((text or "")[: length * 4].split())
    return told if len(told) <= length else told[:length].rstrip() + "…"


def fault_words(fault: BevelbookError | None) -> str:
    """A fault for a form: its place is seen, so file and field are left out; of a plugin its line."""
    if fault is None:
        return ""
    words = fault.in_words() if isinstance(fault, PluginFault) else fault.without_place()
    return words[:1].upper() + words[1:]


class Linker:
    """Makes links within one database."""

    def __init__(self, datasette: Any, database: str) -> None:
        self._datasette = datasette
        self.database = database

    def record(self, table_name: str, row_id: str | None, label: object) -> Markup | str:
        """A link to a row, or the bare label where there is no row."""
        if row_id is None:
            return "" if label is None else str(label)
        address = record_address(self._datasette, self.database, table_name, row_id)
        return Markup('<a href="{}">{}</a>').format(address, label if label not in (None, "") else row_id[-6:])

    def page(self, page: str, **given: Any) -> str:
        """The address of one of our pages."""
        return page_address(self._datasette, self.database, page, given)

    def to(self, page: str, label: object, **given: Any) -> Markup:
        """A link to one of our pages."""
        return Markup('<a href="{}">{}</a>').format(self.page(page, **given), label)


def oil_words(label: str | None, viscosity_cst: float | None) -> str:
    """An oil by its label, and its cSt where the label does not say them.

    >>> oil_words("7,000", 7000.0), oil_words("club 5000", 5000.0)
    ('7,000 cSt', 'club 5000 cSt')
    >>> oil_words("second 7k", 6150.0), oil_words("60 wt", None), oil_words(None, 7000.0)
    ('second 7k (6,150 cSt)', '60 wt', '7,000 cSt')
    """
    cst = figure("viscosity_cst", viscosity_cst, unit=True)
    if not label:
        return cst or "oil not said"
    told = short(label, 40)
    if viscosity_cst is None:
        return told
    says_it = f"{viscosity_cst:.0f}" in told.replace(",", "").replace("\N{NARROW NO-BREAK SPACE}", "").split()
    return told if says_it and "cst" in told.lower() else f"{told} cSt" if says_it else f"{told} ({cst})"


def oil(row: Row) -> str:
    """The oil of a build."""
    return oil_words(row.get("fluid_label"), row.get("viscosity_cst"))


def conditions(row: Row) -> str:
    """Grip and temperatures of a run."""
    grip = f"{row['grip']} grip" if row["grip"] else ""
    if grip and row.get("grip_trend") in ("rising", "falling"):
        grip += f", {row['grip_trend']}"
    track = f"track {figure('track_temp_c', row['track_temp_c'], unit=True)}" if row["track_temp_c"] is not None else ""
    diff = f"diff {figure('diff_temp_c', row['diff_temp_c'], unit=True)}" if row["diff_temp_c"] is not None else ""
    return ", ".join(part for part in (grip, track, diff) if part)


def build_sentence(links: Linker, row: Row) -> Markup:
    """A build in one sentence."""
    by = f" by {row['builder']}" if row["builder"] else ""
    mass = f", {figure('oil_in_g', row['oil_in_g'], unit=True)} of oil" if row["oil_in_g"] is not None else ""
    return Markup("{}: {}, {}{}, {}{}").format(
        row["built_on"], links.record("builds", row["id"], row["label"]), row["kind"] or "build", by, oil(row), mass
    )


def run_sentence(links: Linker, rows: Sequence[Row]) -> Markup:
    """A run in one sentence, with every diff that was in the car."""
    first = rows[0]
    where = links.record("venues", first["venue"], first["venue_name"]) if first["venue"] else "venue not said"
    diffs = Markup(", ").join(
        Markup("{} {}").format(row["position"] or "with", links.record("builds", row["build"], row["build_label"]))
        for row in rows
        if row["build"]
    )
    told = Markup("{}: {}").format(links.record("runs", first["run"], first["run_on"]), where)
    for part in (conditions(first), diffs, count_of(first["runs"]) if first["runs"] not in (None, 1) else ""):
        if part:
            told += Markup("; {}").format(part)
    if first["call"]:
        told += Markup("; <strong>{}</strong>").format(first["call"])
    note = short(first["note"] or first["happened"], 90)
    return told + (Markup(' <span class="quiet">“{}”</span>').format(note) if note else "")


def by_run(rows: Iterable[Row]) -> list[list[Row]]:
    """Rows of one run together, in the order in which the runs come."""
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row["run"], []).append(row)
    return list(found.values())


def runs_table(links: Linker, caption: str, rows: Iterable[Row], *, venue: bool) -> PageTable:
    """Runs as a table; what is not known to be full says so, and how long ago it was open."""
    return table(
        caption,
        "Day|Venue|Grip|#Track [°C]|#Diff [°C]|Place|Build|Oil|#Runs|#Best five [s]|Call|Full?|#Runs since opened|Note",
        (
            (
                links.record("runs", row["run"], row["run_on"]),
                links.record("venues", row["venue"], row["venue_name"]) if venue else "",
                row["grip"],
                figure("track_temp_c", row["track_temp_c"]),
                figure("diff_temp_c", row["diff_temp_c"]),
                row["position"],
                links.record("builds", row["build"], row["build_label"]),
                oil(row) if row["build"] else "",
                figure("runs", row["runs"]),
                figure("best_five_s", row["best_five_s"]),
                row["call"],
                with_sign(row["fill_state"] or ""),
                figure("runs", row["runs_before"]),
                short(row["note"] or row["happened"]),
            )
            for row in rows
        ),
    )


def builds_table(
    links: Linker, caption: str, rows: Iterable[Row], *, fluid: bool = True, diff: bool = False
) -> PageTable:
    """Builds as a table, newest first."""
    return table(
        caption,
        "Build|Oil lost|Day|Diff|What|Oil|#Dry [g]|#Oil [g]|#Runs|Lost|Feel|Opened|For|Leak|Note",
        (
            (
                links.record("builds", row["id"], row["label"]),
                with_sign(row["leak"] or ""),
                row["built_on"],
                links.record("diffs", row["diff"], row["diff_label"]) if diff else "",
                row["kind"],
                oil(row) if fluid else "",
                figure("dry_mass_g", row["dry_mass_g"]),
                figure("oil_in_g", row["oil_in_g"]),
                figure("runs", row["runs"]),
                loss_in_cell(row),
                row["hand_feel"],
                row["opened_on"],
                row["opened_for"],
                row["leak_place"],
                short(row["note"]),
            )
            for row in rows
        ),
    )
