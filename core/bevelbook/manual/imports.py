"""The import of notes: the columns, and every reason and warning with what settles it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bevelbook.display.begun import begun
from bevelbook.manual.contents import Block, Bullets, CommandLine, Entries, ManualEntry, ManualPage, Paragraph, Section
from bevelbook.manual.field_words import facts_of_field
from bevelbook.notes.known_profiles import known_profiles
from bevelbook.notes.note_columns import COLUMNS
from bevelbook.notes.report import ALSO_REJECTED, OF_A_FILE, REASONS, SETTLED_BY, SKIPPED, WARNINGS
from bevelbook.plugin.registry import Registry

CORRECT_ROW: Final = "Correct the row in the file of rejected rows and import that file."
CORRECT_FILE: Final = "Correct the file and import it again."


def import_page(registry: Registry) -> ManualPage:
    """Columns, reasons, skipped lines and warnings of an import."""
    return ManualPage(
        "import",
        "Import of notes",
        "A reading is taken only where it is the only one that can be right. Every other row is rejected with its "
        "reason, kept, and written beside the file.",
        (
            Section(
                "Columns",
                (
                    Paragraph("An empty sheet with these headings; other headings are named with --map or a profile:"),
                    CommandLine("bevelbook import --template"),
                    *_profiles(registry),
                    Paragraph(
                        "Laps are read in seconds and as a timing screen or a spreadsheet shows them: 1:14.9, 1:14,9 s "
                        "and 0:01:14.9 are 74.9 s. Where 1:15 was typed into a spreadsheet, it took that for an hour "
                        "and 15 minutes: such a cell is rejected, with the seconds to put in its place."
                    ),
                    Entries(
                        tuple(
                            ManualEntry(field.name, f"{field.about}.", _sentence("; ".join(facts_of_field(field))))
                            for field in COLUMNS
                        ),
                        True,
                    ),
                ),
            ),
            Section(
                "What is asked",
                (
                    Paragraph(
                        "On a terminal what the file leaves open is asked, each question once, with up to three of its "
                        "cells. Type the number of an answer; a question that may be left open takes Enter. Then the "
                        "first rows are shown as they would be stored: with no, or Ctrl-C at any question, nothing is."
                    ),
                    Paragraph(
                        "The answers are kept beside the file, in season.profile.yaml for season.csv; a file of that "
                        "name is never overwritten. The next import of the file, and of its rejected rows, goes by "
                        "them and says so; --no-profile does without. With a profile only what is needed is asked. A "
                        "dry run asks too and writes nothing. With --yes or --json, and in a script, nothing is asked: "
                        "the report has the command for each answer."
                    ),
                    Paragraph(
                        "A phone that writes brings a file in too: A file of notes, under More to write on the "
                        "first page. The file is chosen there, or dropped. The same questions are buttons, one at "
                        "a time; then the first rows are shown, with those that are rejected and why, and Bring "
                        "them in stores all of it as one entry, which can be taken back. Until then it waits on "
                        "the laptop, for two hours at most and not over a restart; the answers are in the pages of "
                        "the phone. A file with the headings of one that is in the book can be read as that was: "
                        "what was said of its headings, order of dates, marks and units, but not its year or its "
                        "diff. Longer files are for the command line: the page says its limit."
                    ),
                ),
            ),
            Section(
                "Front and rear in one cell",
                (
                    Paragraph(
                        "A profile splits cells such as 7k/10k: the sign between the values, the places in their "
                        "order, and the headings of the columns. Dates, and columns that are not named, stay whole."
                    ),
                    CommandLine('split: {at: "/", into: [front, rear], columns: ["Oil", "Diff", "dry"]}'),
                    Paragraph(
                        "The file comes in once for each place, as parts of one entry; in each part a split cell has "
                        "the value of that place, and position is the place. A blank cell stays blank, and 7k/ is 7k "
                        "at the front and blank at the rear. A cell with another number of values rejects its row in "
                        "each part, with the whole cell. Rejected rows of each part go to a file of their own: type "
                        "there the value of that place alone; the same profile does not split that file again. "
                        "The runs of a row are runs of each diff, and a mass in a column that is not split is the mass "
                        "of each: the report names such a column (same_at_each_place)."
                    ),
                    Paragraph("In split too: a single value that is for every place, in any column but the diff:"),
                    CommandLine("alone: both"),
                    Paragraph("The diffs, where no column has them:"),
                    CommandLine('diffs: {front: "F-03", rear: "R-07"}'),
                ),
            ),
            Section(
                "Rejected rows",
                (
                    Paragraph(
                        "Correct them in the file that is written beside the notes and import that, or mend them on a "
                        "paired phone: the first page leads there under what to do, and so do what is to finish and "
                        "the page of the kept file. Each row is there with its reason, and the cell that is wrong; "
                        "where the reason leaves a few answers they are buttons. What is mended comes in as one entry, "
                        "what is still wrong stays with what you typed. A value out of range that is right is taken "
                        "by a button, for that row alone."
                    ),
                ),
            ),
            Section("Why a row or a file is rejected", (Entries(tuple(map(reason_entry, rejecting())), True),)),
            Section(
                "Lines that are skipped",
                (
                    Paragraph("They hold no row of notes; the report counts them."),
                    Entries(tuple(ManualEntry(code, skipped_entry(code).words) for code in SKIPPED), True),
                ),
            ),
            Section(
                "Warnings",
                (
                    Paragraph("The rows are taken; read what each one says."),
                    Entries(tuple(ManualEntry(code, warning_entry(code).words) for code in WARNINGS), True),
                ),
            ),
        ),
    )


def _profiles(registry: Registry) -> Iterator[Block]:
    """The profiles that are known by name, and how one is used."""
    known = known_profiles(registry)
    if not known:
        return
    yield Paragraph("These profiles are known by name; plugins bring them:")
    yield Bullets(
        tuple(f"{one.name}{f' or {one.language}' if one.language else ''}: {one.title}" for one in known.values())
    )
    yield CommandLine(f"bevelbook import --profile {next(iter(known))} FILE")


def rejecting() -> list[str]:
    """The codes that reject a row or a file."""
    return [code for code in REASONS if code not in SKIPPED or code in ALSO_REJECTED]


def reason_entry(code: str) -> ManualEntry:
    """Why something is rejected, and what settles it."""
    settled = SETTLED_BY.get(code)
    otherwise = CORRECT_FILE if code in OF_A_FILE else CORRECT_ROW
    return ManualEntry(code, _sentence(REASONS[code]), f"Settled by: {settled}." if settled else otherwise)


def skipped_entry(code: str) -> ManualEntry:
    """What a skipped line is."""
    return ManualEntry(code, _sentence(REASONS[code]), "The line is skipped and counted; it holds no row of notes.")


def warning_entry(code: str) -> ManualEntry:
    """What a warning means."""
    return ManualEntry(code, _sentence(WARNINGS[code]), "The rows are taken; look at them.")


def _sentence(words: str) -> str:
    said = begun(words)
    return said if said.endswith(("?", ".")) else f"{said}."
