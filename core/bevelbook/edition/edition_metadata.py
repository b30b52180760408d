"""What an edition says of itself where the plugin of this tool is not there: titles, words and units of its columns,
and the charts as they are declared."""

from __future__ import annotations

import json
from datetime import date
from typing import Any, Final, NamedTuple

from bevelbook.edition.edition_copy import EditionCopy
from bevelbook.facts.views import VIEWS
from bevelbook.plugin.registry import Registry
from bevelbook.records import FACTS, KINDS
from bevelbook.store.column_words import columns_of_kind, columns_of_view_in_words
from bevelbook.store.invented_mark import INVENTED_WORDS
from bevelbook.store.schema import FILE_TABLES, search_table

HIDDEN: Final = (
    *("about", "also_called", "as_written", "clashes", "entries", "erasures", "history", "note_diffs", "note_rejects"),
    *("one_with", "replacing", "writing", *FILE_TABLES),
)
"""Tables that are empty in an edition, or say nothing to people."""


class EditionSaid(NamedTuple):
    """What a person says of an edition: its title, under which terms others may use it, and where it comes from."""

    title: str | None = None
    license: str | None = None
    license_url: str | None = None
    source: str | None = None
    source_url: str | None = None


def metadata_json(copy: EditionCopy, name: str, day: date, said: EditionSaid) -> str:
    """What Datasette takes with ``--metadata``."""
    tables: dict[str, Any] = {}
    for kind in (*KINDS, *FACTS):
        tables[kind.table] = {"description": f"{kind.about}.", "columns": columns_of_kind(kind)}
        if kind.label:
            tables[kind.table]["label_column"] = kind.label
        if kind.searched:
            tables[kind.table] |= {"fts_table": search_table(kind), "fts_pk": "rowid"}
    for view in VIEWS:
        tables[view.name] = {"description": f"{view.about}.", "columns": columns_of_view_in_words(view)}
    tables |= {hidden: {"hidden": True} for hidden in HIDDEN}
    about = f"A copy of {day.isoformat()}, to read. " + (f"{INVENTED_WORDS} " if copy.invented else "")
    said_of_all = {field: value for field, value in said._asdict().items() if value is not None}
    database = {"description": about.strip(), **said_of_all, "tables": tables}
    found = {**said_of_all, "description": about.strip(), "databases": {name: database}}
    return json.dumps(found, ensure_ascii=False, indent=1) + "\n"


def charts_json(registry: Registry) -> str:
    """The charts as they are declared: title, columns, specification (Vega-Lite) and, where their rows come from the
    database, the SELECT that asks for them; ``worked_out`` where a calculator or a function makes the rows."""
    charts = [
        {
            "name": chart.name,
            "title": chart.title,
            "about": chart.about,
            "columns": [list(column) for column in chart.columns],
            "sql": chart.sql,
            "worked_out": any((chart.curve, chart.points, chart.made)),
            "spec": dict(chart.spec),
        }
        for chart in registry.charts()
    ]
    return json.dumps(charts, ensure_ascii=False, indent=1) + "\n"
