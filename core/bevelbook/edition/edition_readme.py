"""The README of an edition: what it is, how to serve it, and what it cannot hide."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Final

from bevelbook.declare.in_command import in_command
from bevelbook.edition.edition_copy import EditionCopy
from bevelbook.interchange.export_words import held_in_words
from bevelbook.store.edition_mark import DAYS, PEOPLE
from bevelbook.store.invented_mark import INVENTED_WORDS

if TYPE_CHECKING:
    from bevelbook.edition.edition_metadata import EditionSaid

_KNOWN_BY_DAYS: Final = (
    "Who knows a few days on which a team raced, four to six with the venue, knows which team this is. "
    "Nothing that is left out of a copy changes that as long as days and venues are in it."
)


def readme(copy: EditionCopy, book: str, name: str, day: date, said: EditionSaid) -> str:
    """The text of README.md."""
    return "\n".join(_lines(copy, book, name, day, said)) + "\n"


def _lines(copy: EditionCopy, book: str, name: str, day: date, said: EditionSaid) -> Iterator[str]:
    yield f"# {said.title or book}, {day.isoformat()}"
    yield ""
    yield "Builds, oils and runs of oil-filled bevel-gear diffs: a copy to read. Nobody writes into it."
    if copy.invented:
        yield INVENTED_WORDS
    yield f"It holds {held_in_words(copy.rows)}."
    if said.license or said.license_url:
        yield f"Terms: {' '.join(filter(None, (said.license, said.license_url)))}."
    else:
        yield "Nobody said under which terms it may be used: ask before you pass it on."
    if said.source or said.source_url:
        yield f"From: {' '.join(filter(None, (said.source, said.source_url)))}."
    yield ""
    yield "## What is in the folder"
    yield ""
    yield f"- `{name}.db`: the database, SQLite. Its bytes are those of SQLite {sqlite3.sqlite_version}: the same"
    yield "  content written with that version gives the same bytes; another version gives other ones."
    yield "- `metadata.json`: titles, words and units, for Datasette."
    yield "- `charts.json`: the charts (Vega-Lite), with the query of their rows where no calculator makes them."
    yield "- `edition.json`: what this folder is, for programs."
    yield ""
    yield "## How to serve it"
    yield ""
    yield "With all pages, calculators and charts, where bevelbook is installed:"
    yield ""
    typed = in_command(f"{name}.db")
    yield f"    bevelbook --db {typed} serve"
    yield f"    datasette serve --immutable {typed} --metadata metadata.json"
    yield ""
    yield "The second line works without bevelbook too: the tables, with their words and units. The file never changes,"
    yield "so any number of such processes may serve it, on any machines, behind any reverse proxy that shares requests"
    yield "out among them; nothing has to be kept together. Put the next edition beside this one and point the proxy to"
    yield "it. To serve editions of two teams side by side, name both files: each has its own pages."
    yield ""
    yield "Where `index.html` lies in the folder, any web space serves its pages: put all of it there, and nothing has"
    yield "to run. They open from the folder too. Calculators, forms and tables are not in them; the search in them"
    yield "needs a script."
    yield ""
    yield "For a database of your own that begins with it:"
    yield ""
    yield f"    bevelbook --db mine.db new --from {typed}"
    yield ""
    yield "## What is not in it"
    yield ""
    yield "- The past of records and who changed them; entries; rows of notes that were rejected; other versions of"
    yield "  what was changed in two places."
    if not copy.parts.with_files:
        yield "- Photographs, and the kept files of notes."
    if PEOPLE in copy.without:
        yield "- People: no name, who did what, sheets of notes. Names in notes became driver 1, driver 2 and so on, in"
        yield "  the order in which they are first named; ids are made from what is here alone."
    if DAYS in copy.without:
        yield "- Days: of each only the quarter is left. Days within a quarter are numbered from its first one, in"
        yield "  their order, those in a row still in a row; times of day are numbered in the same way. They are not"
        yield "  real days: texts and pages say 2026-Q2-04 where a column holds 2026-04-04."
    yield ""
    yield "## What it cannot hide"
    yield ""
    if DAYS not in copy.without:
        yield _KNOWN_BY_DAYS
    else:
        yield "How many days a team raced in a quarter, and in what order, is still there, and the names of venues."
        yield "Days that somebody wrote into a note in another way than 2026-05-03, 20260503, 2026-W18, 3.5.2026,"
        yield "3 May or 3. Mai (also in French, Spanish and Italian) are still there, and so are weekdays."
    if PEOPLE in copy.without:
        yield "Notes are as they were written but for names: how somebody writes, a result or a car that is talked"
        yield "about tells those who were there who it was. A nickname that the database does not have stays."
    else:
        yield "The names of people are in it, who built and drove, notes about people, and every note as it was"
        yield "written."
    yield "What was once published cannot be called back."
