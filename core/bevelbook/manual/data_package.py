"""An export for people: what is in its folder, how a cell reads, how it comes back, what to mind."""

from __future__ import annotations

from typing import Final

from bevelbook.interchange.csv_cells import GUARD
from bevelbook.interchange.descriptor import DESCRIPTOR, UNIT_CODES
from bevelbook.interchange.export_folder import FILES, PICTURES
from bevelbook.interchange.exported_tables import exported_tables
from bevelbook.manual.contents import (
    Bullets,
    Cautions,
    CommandLine,
    Entries,
    ManualEntry,
    ManualPage,
    Paragraph,
    Section,
)

TOPIC: Final = "package"


def data_package_page() -> ManualPage:
    """Everything about an export that a person has to know."""
    return ManualPage(
        TOPIC,
        "An export as a data package",
        "All that the database holds, in files that any program can read, today and in twenty years.",
        (
            Section(
                "Write it and take it in",
                (
                    CommandLine("bevelbook export season"),
                    CommandLine("bevelbook export season.zip"),
                    CommandLine("bevelbook merge season"),
                    CommandLine("bevelbook --db other.db new --from season"),
                    Paragraph(
                        "Nothing is left out: every record with its past, entries and those taken back, kept results, "
                        "the imported files with their rejected rows, photographs. What follows from the records, such "
                        "as facts and the search, is worked out again where it comes in."
                    ),
                    Paragraph(
                        "Two databases that hold the same give the same bytes, whoever wrote them and whenever: so you "
                        "can see whether two laptops are equal. An earlier export in that folder is replaced whole; a "
                        "folder with anything else in it is left alone."
                    ),
                ),
            ),
            Section(
                "What is in the folder",
                (
                    Entries(
                        (
                            ManualEntry(
                                DESCRIPTOR,
                                "What each file and each column holds: type, unit and its UCUM code, bounds, words, "
                                "what refers to what, and the hash and size of each file.",
                                "Data Package and Table Schema, version 2.0; The Unified Code for Units of Measure "
                                f"(UCUM), version {UNIT_CODES['version']}",
                            ),
                            ManualEntry("TABLE.csv", "One file for each table, listed below.", "RFC 4180, UTF-8"),
                            ManualEntry(f"{FILES}/", "The imported files as they were, each named by its SHA-256."),
                            ManualEntry(f"{PICTURES}/", "The pictures of photographs, each large and small."),
                        )
                    ),
                ),
            ),
            Section(
                "How a cell reads",
                (
                    Bullets(
                        (
                            f"An empty cell is nothing. {GUARD} alone is an empty text.",
                            f"A text that a spreadsheet might run, such as =1+1 or -5 %, has {GUARD} in front, and so "
                            f"has a text that begins with {GUARD} itself: take one away to have the text. So no cell "
                            "is a formula, and every text comes back as it was.",
                            "A number has no such sign. It has as many digits as give it back to the last bit, with a "
                            "point, and its unit is in datapackage.json.",
                            "Rows stand in the order of their ids. Where a record refers to another, its cell has that "
                            "one's id as it was written, also where a join says that two are one.",
                            "In history.csv the versions of one record follow each other, the older ones first.",
                        )
                    ),
                ),
            ),
            Section(
                "The tables",
                (Entries(tuple(ManualEntry(table.path, table.about) for table in exported_tables())),),
            ),
            Section(
                "Mind",
                (
                    Cautions(
                        (
                            "It holds the names of people and what they noted, and pictures. Give it only to whom "
                            "these may know.",
                            "It is not for editing: a file that was changed is refused when it comes in. Type changes "
                            "with 'bevelbook record', or bring rows in with 'bevelbook import FILE'.",
                            "A spreadsheet that saves such a file may change it: dates, long numbers, accents. Save a "
                            "copy elsewhere.",
                        )
                    ),
                    Paragraph(
                        "Which licence it has is yours to say: none is named. That everything is invented, as in the "
                        "demo, is said in it and goes along."
                    ),
                ),
            ),
        ),
    )
