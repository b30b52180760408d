"""The commands, the options before them and the exit codes: named here once, for the command line and the manual."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from bevelbook.manual.contents import ManualPage

COMMANDS: Final = {
    "new": "Start an empty database.",
    "demo": "See it all on invented data: import, calculate, browse.",
    "import": "Bring old notes in from a CSV file.",
    "calculators": "List the calculators, and what did not load.",
    "calc": "Run a calculator.",
    "plugin": "Begin a calculator of your own, list plugins, look one over.",
    "record": "Add, change or remove a record.",
    "scale-check": "Find out how small a loss a scale can see.",
    "join": "Say that two names mean one diff, oil, person, track, car or scale.",
    "take-back": "Take back your last entry, or a named one, whole.",
    "erase": "Take out a person, a note or a photograph, for good.",
    "history": "List what was written, by whom, and what came of it.",
    "export": "Write it all into open files, or one table.",
    "calls": "Say what was decided after runs that have no call yet.",
    "card": "Print the card of a build, or a blank run sheet.",
    "labels": "Print labels for bags, bottles and tins.",
    "merge": "Bring in what a team mate's database holds, and settle clashes.",
    "edition": "Write a dated copy for others to read.",
    "compare": "Show two builds side by side, only what differs.",
    "check": "Report what is worth a look, worst first.",
    "backup": "Keep a copy of the database, or bring one back.",
    "serve": "Browse the database, read-only.",
    "enter": "Browse it, and write from paired phones.",
    "help": "Print a page of the manual.",
}
"""Each command with its line of help, so that the list needs no command loaded."""
OPTIONS: Final = {
    "--db": "The team's database. Also BEVELBOOK_DB.",
    "--by": "Who is writing. Also BEVELBOOK_BY.",
    "--plugins": "A folder of single .py plugins to load as well. Also BEVELBOOK_PLUGINS.",
    "--quiet": "Also -q: on standard error only errors, and what ends the command with 1; no notice, progress or hint.",
    "--debug": "Show the traceback of a fault of the program or of a plugin.",
}
"""The options that every command takes, before it or after it."""
EXIT_CODES: Final = {
    0: "Done.",
    1: "Done, with findings, rejected rows, the verdict stop, or a plugin that failed.",
    2: "Wrong use or bad input; nothing was changed.",
    3: "A fault of the program or of a plugin.",
    130: "Stopped by hand.",
}


def commands_page() -> ManualPage:
    """Every command with what it does."""
    from bevelbook.manual.contents import Entries, ManualEntry, ManualPage, Paragraph, Section

    return ManualPage(
        "commands",
        "Commands",
        "Every command explains itself with --help; those that print data take --json.",
        (
            Section("Commands", (Entries(tuple(ManualEntry(name, line) for name, line in COMMANDS.items()), True),)),
            Section(
                "Options of every command",
                (
                    Entries(tuple(ManualEntry(name, line) for name, line in OPTIONS.items()), True),
                    Paragraph(
                        "They go before the command or after it: bevelbook --db team.db check is bevelbook check --db "
                        "team.db. What stands after -- is none of them."
                    ),
                ),
            ),
            Section("Exit codes", (Entries(tuple(ManualEntry(str(code), line) for code, line in EXIT_CODES.items())),)),
        ),
    )
