"""The tables and views of a database: what each holds, column by column, and what a plugin may rely on."""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.facts.views import VIEWS
from bevelbook.manual.contents import Bullets, Entries, ManualEntry, ManualPage, Paragraph, Section
from bevelbook.records import BY_NAME, FACTS, KINDS, Kind
from bevelbook.store.column_words import columns_of_kind, columns_of_view_in_words

TOPIC: Final = "tables"
PROMISED: Final = frozenset(
    [
        *(kind.table for kind in KINDS if kind.own),
        "calculations",
        *(kind.table for kind in FACTS),
        *(view.name for view in VIEWS),
    ]
)
"""Tables and views whose columns a plugin may rely on."""
PROMISE: Final = (
    "A column of a promised table or view keeps its name, its unit and its meaning; where one has to change, the "
    "second number of the version goes up (0.1 to 0.2) and the list of changes says so.",
    "Columns may be added at any time, so name the columns that you read.",
    "Rows have an order only where you ask for one with ORDER BY.",
    "Of calculations the text in given and found is not promised: read it with CALCULATOR.given_from and found_from.",
    "A calculator has the view calc_NAME with every result that was kept, of all its versions, calc_NAME_latest with "
    "the last one of the newest version for each record, and calc_NAME_rows and calc_NAME_rows_latest where it lists "
    "rows. Their columns are those that it declares, then those that only kept results have. They may change with it.",
    "Every other table, every trigger and every index, and the tables of the search may change.",
)


class TableInWords(NamedTuple):
    """A table or view with its columns in words."""

    name: str
    title: str
    about: str
    columns: dict[str, str]
    group: str

    @property
    def is_promised(self) -> bool:
        return self.name in PROMISED


def listed() -> dict[str, TableInWords]:
    """Every table and view by name."""
    tables = [_of_kind(kind) for kind in (*KINDS, *FACTS)]
    views = [TableInWords(view.name, view.title, view.about, columns_of_view_in_words(view), "Views") for view in VIEWS]
    return {one.name: one for one in (*tables, *views)}


def tables_page() -> ManualPage:
    """Every table and view with what it holds, and the promise."""
    found = listed()
    groups = dict.fromkeys(one.group for one in found.values())
    return ManualPage(
        TOPIC,
        "Tables and views",
        "What the database holds. Any program may read it with SQL; 'bevelbook help tables NAME' lists the columns.",
        (
            *(
                Section(
                    group,
                    (
                        Entries(
                            tuple(
                                ManualEntry(one.name, f"{one.about}.", topic=f"{TOPIC}/{one.name}")
                                for one in found.values()
                                if one.group == group
                            ),
                            True,
                        ),
                    ),
                )
                for group in groups
            ),
            Section(
                "What a plugin may rely on", (Paragraph(f"Promised: {', '.join(sorted(PROMISED))}."), Bullets(PROMISE))
            ),
        ),
    )


def table_page(one: TableInWords) -> ManualPage:
    """One table or view with its columns."""
    return ManualPage(
        f"{TOPIC}/{one.name}",
        f"{one.title} ({one.name})",
        f"{one.about}.",
        (
            Section(
                "Columns",
                (
                    Entries(tuple(ManualEntry(name, f"{words}.") for name, words in one.columns.items()), True),
                    Paragraph(
                        "A plugin may rely on these columns."
                        if one.is_promised
                        else "A plugin may not rely on this table: it may change at any time."
                    ),
                ),
            ),
        ),
    )


def _of_kind(kind: Kind) -> TableInWords:
    group = "Facts, which follow from the records" if kind.fact else "Records" if kind.own else "Kept by the tool"
    columns = {name: _with_target(kind, name, words) for name, words in columns_of_kind(kind).items()}
    return TableInWords(kind.table, kind.title, kind.about, columns, group)


def _with_target(kind: Kind, column: str, words: str) -> str:
    """What a column holds, and of a reference the table that it points to."""
    target = next((field.target for field in kind.fields if field.name == column), None)
    return f"{words}; an id of {BY_NAME[target].table}" if target in BY_NAME else words
