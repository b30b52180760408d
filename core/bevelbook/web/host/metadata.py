"""Titles, descriptions with units, facets and order of every table and view, as Datasette takes them."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.facts.views import VIEWS, View
from bevelbook.plugin.registry import Registry
from bevelbook.records import FACTS, KINDS, Kind, Order
from bevelbook.store import keeping
from bevelbook.store.calculation_views import row_columns, view_columns, view_names
from bevelbook.store.column_words import SHARED, columns_of_kind, columns_of_view_in_words
from bevelbook.store.schema import FILE_TABLES, search_table

PAGE_ROWS: Final = 50
_PLAIN: Final = ("about", "also_called", "as_written", "history", *FILE_TABLES, "one_with", "replacing", "writing")
HIDDEN: Final = (*_PLAIN, *keeping.HIDDEN, "_sqlite_migrations")
_ABOUT: Final = {"name": "What is said", "value": "What it is"}


def metadata_of(
    name: str, registry: Registry, invented: bool = False, large: bool = False, *, takes_entries: bool = False
) -> dict[str, Any]:
    """What Datasette shows of one of our databases; ``invented`` is what the database says of itself, and
    ``takes_entries`` whether paired phones may write to it.

    In a ``large`` one no facets of views are counted unless somebody asks for one: each joins all rows once more.
    """
    tables: dict[str, Any] = {kind.table: _of_kind(kind) for kind in KINDS}
    tables |= {kind.table: _of_facts(kind) for kind in FACTS}
    tables |= {view.name: _of_view(view) for view in VIEWS}
    if large:
        for view in VIEWS:
            tables[view.name].pop("facets", None)
    tables["about"] = _common("About", "What the database says of itself", _ABOUT)
    for offered in registry.with_rows():
        tables |= _of_calculator(offered.calculator)
    tables |= {hidden: {"hidden": True} for hidden in HIDDEN}
    return {
        "title": name,
        "description": "Builds, fluids, runs and how they went. "
        + ("Written by paired phones alone." if takes_entries else "Read-only."),
        "invented": invented,
        "tables": tables,
    }


def _of_kind(kind: Kind) -> dict[str, Any]:
    facets = tuple(field.name for field in kind.fields if field.facet)
    found = _common(kind.title, kind.about, columns_of_kind(kind), facets, kind.shown_by)
    if kind.label:
        found["label_column"] = kind.label
    if kind.searched:
        found |= {"fts_table": search_table(kind), "fts_pk": "rowid"}
    return found


def _of_facts(kind: Kind) -> dict[str, Any]:
    return _common(kind.title, kind.about, columns_of_kind(kind))


def _of_view(view: View) -> dict[str, Any]:
    return _common(view.title, view.about, columns_of_view_in_words(view), view.facets, view.order)


def _of_calculator(calculator: Any) -> dict[str, Any]:
    views = view_names(calculator.name)
    about_subject = {
        "calculation": SHARED["calculation"],
        "subject_table": "Table of what it was computed for",
        "subject_id": "What it was computed for",
    }
    fields = {column: field.described() for column, _, field in view_columns(calculator)}
    columns = {
        **about_subject,
        "verdict": "ok, caution, stop or unclear",
        **fields,
        "version": "Version of the calculator",
        "calculated_at": "When",
        "calculated_by": "Who",
        "fingerprint": "What it declared and found for its worked examples then; alike for all of one version",
    }
    title = f"Results: {calculator.title}"
    found = {
        views.every: _common(title, f"All kept results: {calculator.purpose}", columns),
        views.latest: _common(f"{title}, latest", f"The latest of each record: {calculator.purpose}", columns),
    }
    for name in (views.every, views.latest):
        found[name]["sort_desc"] = "calculated_at"
    if calculator.listing_out:
        columns = {
            **about_subject,
            "place": SHARED["place"],
            **{name: field.described() for name, field in row_columns(calculator)},
            "version": "Version of the calculator",
            "calculated_at": "When",
        }
        about = calculator.listing_out.about
        found[views.rows] = _common(f"{title}, rows", f"Row by row, of all kept results: {about}", columns)
        found[views.rows_latest] = _common(
            f"{title}, rows of the latest", f"Row by row, of the latest of each record: {about}", columns
        )
    return found


def _common(
    title: str, about: str, columns: dict[str, str], facets: tuple[str, ...] = (), order: Order | None = None
) -> dict[str, Any]:
    found: dict[str, Any] = {"title": title, "description": f"{about}.", "columns": columns, "size": PAGE_ROWS}
    if facets:
        found["facets"] = list(facets)
    if order:
        found["sort_desc" if order.newest_first else "sort"] = order.column
    return found
