"""Editions for people: a dated copy for others, what is in it, and what it cannot hide."""

from __future__ import annotations

from typing import Final

from bevelbook.manual.contents import Bullets, CommandLine, ManualPage, Paragraph, Section

TOPIC: Final = "edition"


def edition_page() -> ManualPage:
    """Everything about editions that a person has to know."""
    return ManualPage(
        TOPIC,
        "An edition",
        "A dated copy of the database for others to read: what the team knows, without who changed what.",
        (
            Section(
                "Write one",
                (
                    CommandLine('bevelbook edition season-for-all --title "Two seasons" --license "CC BY 4.0"'),
                    CommandLine("bevelbook edition season-for-all --without-people --without-days"),
                    Paragraph(
                        "The folder has the database file with its day, titles and units for Datasette, the charts, "
                        "and a README of how to serve it. An earlier edition of the same database in that folder is "
                        "replaced; anything else there is left alone and the command stops."
                    ),
                    Bullets(
                        (
                            "Not in it: the past of records and who changed them, entries, rows of notes that were "
                            "rejected, other versions of a clash; photographs and kept files unless --with-files.",
                            "The same content gives the same bytes, with one version of SQLite: from two laptops that "
                            "met, from sheets imported in another order, from an edition of an edition. Builds and "
                            "runs that were counted while sheets came in are numbered in the order of days; the "
                            "command says which have another label than on your pages.",
                            "Nobody writes into it: record, merge and enter refuse it.",
                        )
                    ),
                ),
            ),
            Section(
                "Without people, without days",
                (
                    Bullets(
                        (
                            "--without-people: no person, no sheet, no who. Names in notes, labels and results become "
                            "driver 1, driver 2: as whole words, in any case, with 's, with or without accents, and "
                            "each word of a name of two. Numbers follow from where somebody is first named.",
                            "A name that is a word as well, such as may, and one that stands in lower case in notes, "
                            "is shown with its places before anything is written; --yes goes on without asking.",
                            "A name inside a longer word is left and said. A nickname that no person of the database "
                            "has is not found: read the notes once yourself.",
                            "--without-days: of each day the quarter is left. Days are numbered from the first of "
                            "their quarter, those in a row stay in a row; times of day are numbered too. Days in notes "
                            "go where they are written as 2026-05-03, 20260503, 2026-W18, 3.5.2026, 3 May or 3. Mai, "
                            "in German, French, Spanish and Italian too; 3.5. and 3/5 go where the book has that day. "
                            "What still looks like a day, such as Sunday or May 2026, is said: look at it.",
                            "In both, ids are made from what the edition says, since an id tells when it was made.",
                        )
                    ),
                    Paragraph(
                        "What it cannot hide: who knows a few days on which you raced, four to six with the venue, "
                        "knows which team it is. What is published cannot be called back."
                    ),
                ),
            ),
            Section(
                "Read it, begin with it",
                (
                    CommandLine("bevelbook --db season-2026-05-24.db serve"),
                    CommandLine("datasette serve --immutable north-2026-05-24.db south-2026-05-24.db"),
                    CommandLine("bevelbook --db mine.db new --from season-for-all"),
                    Paragraph(
                        "Editions of two teams stand side by side in one Datasette, each with its own pages. A "
                        "database that begins with one has all records as they were published, and says what is "
                        "missing. Merge only the databases themselves: in an edition nothing says which version of a "
                        "record is newer."
                    ),
                ),
            ),
        ),
    )
