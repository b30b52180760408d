"""The commands, the options before them and the exit codes: named here once, for the command line and the manual."""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Final

    from bevelbook.manual.contents import ManualPage

ABOUT: Final = "Keep every build of a sealed bevel-gear diff, its oil and its results; compute what a build needs."
"""What the whole is for, in the help."""
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
    "plan": "Say what to do before an event, and with what.",
    "backup": "Keep a copy of the database, or bring one back.",
    "serve": "Browse the database, read-only.",
    "enter": "Browse it, and write from paired phones.",
    "help": "Print a page of the manual.",
}
"""Each command with its line of help, so that the list needs no command loaded."""
WRITING: Final = frozenset(
    {
        "backup",
        "calls",
        "demo",
        "enter",
        "erase",
        "import",
        "join",
        "merge",
        "new",
        "record",
        "scale-check",
        "take-back",
    }
)
"""Commands that are there to write."""
WRITING_WITH: Final = {
    "calc": frozenset({"--keep", "--all"}),
    "check": frozenset({"--accept", "--place", "--put-by", "--rebuild"}),
    "compare": frozenset({"--keep"}),
    "plan": frozenset({"--keep"}),
}
"""Those that write with an option."""
READING_WITH: Final = {
    "backup": frozenset({"--list"}),
    "calls": frozenset({"--list"}),
    "import": frozenset({"--dry-run", "--template"}),
    "merge": frozenset({"--dry-run"}),
}
"""Those of the first that with an option do not write."""
OPTIONS: Final = {
    "--db": "The team's database; bevelbook.db if none is named. Also BEVELBOOK_DB.",
    "--by": "Who is writing. Also BEVELBOOK_BY.",
    "--plugins": "A folder of single .py plugins to load as well. Also BEVELBOOK_PLUGINS.",
    "--quiet": "On standard error only errors and what ends it with 1; no notice, progress or hint.",
    "--debug": "Show the traceback of a fault of the program or of a plugin.",
}
"""The options that every command takes, before it or after it."""
VALUES: Final = {"--db": "FILE", "--by": "NAME", "--plugins": "FOLDER"}
"""What is written behind those that take a value."""
WIDEST: Final = 100
"""Columns that a line of the help takes at most."""
SHORT_OPTIONS: Final = {"--quiet": "-q"}
"""The same in one letter."""
SWITCHED_ON: Final = {
    "bash, in ~/.bashrc": 'eval "$(_BEVELBOOK_COMPLETE=bash_source bevelbook)"',
    "zsh, in ~/.zshrc": 'eval "$(_BEVELBOOK_COMPLETE=zsh_source bevelbook)"',
    "fish, in ~/.config/fish/config.fish": "_BEVELBOOK_COMPLETE=fish_source bevelbook | source",
}
"""The line that has a shell complete what is typed, by the shell and the file that it goes into."""
EXIT_CODES: Final = {
    0: "Done.",
    1: "Done, with findings, rejected rows, the verdict stop, a plugin left out or failed, a kept result that differs.",
    2: "Wrong use or bad input; nothing was changed.",
    3: "A fault of the program or of a plugin.",
    130: "Stopped by hand.",
}


def both_forms(option: str) -> str:
    """An option with its form in one letter, if it has one.

    >>> both_forms("--quiet"), both_forms("--debug")
    ('-q, --quiet', '--debug')
    """
    return ", ".join(filter(None, (SHORT_OPTIONS.get(option), option)))


def commands_page() -> ManualPage:
    """Every command with what it does."""
    from bevelbook.manual.contents import CommandLine, Entries, ManualEntry, ManualPage, Paragraph, Section

    return ManualPage(
        "commands",
        "Commands",
        "Every command explains itself with --help; those that print data take --json.",
        (
            Section("Commands", (Entries(tuple(ManualEntry(name, line) for name, line in COMMANDS.items()), True),)),
            Section(
                "Options of every command",
                (
                    Entries(
                        tuple(ManualEntry(both_forms(name), line) for name, line in OPTIONS.items()),
                        True,
                    ),
                    Paragraph(
                        "They go before the command or after it: 'bevelbook --db team.db check' is "
                        "'bevelbook check --db team.db'. What stands after -- is none of them."
                    ),
                ),
            ),
            Section(
                "Completing in the shell",
                (
                    Paragraph(
                        "With one line in its file, a shell completes what you type with the Tab key: commands, "
                        "calculators and their inputs, kinds of record, their names and fields, words of a field, "
                        "topics. Names come from the database that the line names, else from BEVELBOOK_DB, else from "
                        "bevelbook.db here. It is only read, and where it cannot be read there are none."
                    ),
                    *(
                        block
                        for shell, line in SWITCHED_ON.items()
                        for block in (Paragraph(f"In {shell}:"), CommandLine(line))
                    ),
                    Paragraph("It holds for shells that you open from then on."),
                ),
            ),
            Section("Exit codes", (Entries(tuple(ManualEntry(str(code), line) for code, line in EXIT_CODES.items())),)),
        ),
    )
