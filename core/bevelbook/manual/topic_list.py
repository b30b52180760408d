"""The topics of the manual, named here once: the list needs none of their pages."""

from __future__ import annotations

from typing import Final

TOPICS: Final = {
    "commands": "The commands, the options of all of them, the exit codes, completing.",
    "calculators": "What each calculator answers; with its name, all about one.",
    "plugins": "A calculator of your own: from an empty folder to a row in the browser.",
    "units": "The units that are taken, and those that are refused.",
    "tables": "The tables and views of the database; with its name, the columns of one.",
    "plan": "Before an event: what a plan says of each diff, what it rests on, what it never says; the day; after it.",
    "network": "One laptop at the track: whom it lets in, a name that stays, what phones do not find.",
    "waiting": "Without the laptop: what a phone keeps and hands over, and what it may still lose.",
    "scale": "A scale that speaks: plugging it in, what is taken of its lines, cautions.",
    "import": "The columns of a note file, and why a row is rejected.",
    "meeting": "How the laptops of a team come together, and what a clash is.",
    "backup": "Copies of the book: making them, where to put them, bringing one back; who else can read its files.",
    "protects": "Who can read and write a book, what somebody else's file can do, and what is not promised.",
    "serving": "An edition for many visitors: several processes behind a web server, or an image at a host.",
    "edition": "A dated copy for others: what is in it, without people or days, and what it cannot hide.",
    "photographs": "What is kept of a picture and what is not, and how large it may be.",
    "stock": "Parts, kits and bottles: counting them, what builds take, what is left.",
    "labels": "Labels for bags, bottles and tins: the sheets, what lasts, what their codes do.",
    "erasing": "Taking a person, a note or a photograph out for good, and what is not reached.",
    "package": "An export: what is in its folder, how a cell reads, what to mind.",
    "programs": "Other programs: a table alone for a spreadsheet or an engine, many teams together; calculators for "
    "a whole table, in a notebook, from a server.",
    "hooks": "What a plugin may offer and import, with examples; with a name, all about it.",
    "errors": "Every error code with what to do.",
    "glossary": "The words that commands and pages use.",
    "changes": "What has changed, version by version.",
}
"""The topics in the order of the manual, each with a line of what it holds."""
WITH_NAMES: Final = ("calculators", "tables", "hooks")
"""Topics that have a page for each thing they list, asked for as TOPIC/NAME or by the bare name."""
