"""Copies of a book: making them, where they go, bringing one back, and who else can read its files."""

from __future__ import annotations

from typing import Final

from bevelbook.manual.contents import Bullets, CommandLine, ManualPage, Paragraph, Section

TOPIC: Final = "backup"


def backup_page() -> ManualPage:
    """Everything about copies that a person has to know."""
    return ManualPage(
        TOPIC,
        "Backups",
        "A laptop falls off the pit table, a stick goes missing: keep a copy of the book, and one that is not in the "
        "same bag.",
        (_making(), _which_stay(), _is_it_whole(), _bringing_back(), _damaged(), _copying_by_hand(), _who_reads()),
    )


def _making() -> Section:
    return Section(
        "After each race day",
        (
            CommandLine("bevelbook backup"),
            CommandLine("bevelbook backup --to /media/stick --copies 10"),
            Bullets(
                (
                    "The copy is named after the book and the time: bevelbook-2026-05-24-1832.db. It holds all of it, "
                    "photographs and the past too.",
                    "'bevelbook enter' may go on meanwhile: the copy is the book at one moment. A program that holds "
                    "the book is waited for, 15 seconds at most.",
                    "Each copy is read back before it gets its name: SQLite finds it whole, and every row of every "
                    "table is as in the book. Where the disk is full or the laptop goes off, no half of one is left.",
                    "'bevelbook check', and the first page on the laptop itself, say when the book ran since its last "
                    "backup. Which copies were made is kept on this computer, not in the book: a book that came here "
                    "as a file has none yet.",
                    "A copy beside the book helps after a wrong merge. It does not help when the laptop is gone: put "
                    "one on a stick, or send it to a team mate. It has everybody's names and notes in it.",
                )
            ),
        ),
    )


def _which_stay() -> Section:
    return Section(
        "Which copies stay",
        (
            Paragraph(
                "Without --copies every copy stays. With it the newest of them stay in that folder, and older ones go. "
                "Only those go that this computer made, that are of this book, and that nothing has written to since; "
                "never another file."
            ),
            CommandLine("bevelbook backup --list"),
            Paragraph(
                "The list has the copies that were kept before a merge, a new version or a copy that was brought back "
                "too. These are never removed for you: each is the only way back to its moment. Remove them by hand "
                "when you are sure."
            ),
        ),
    )


def _is_it_whole() -> Section:
    return Section(
        "Whether the file is whole",
        (
            CommandLine("bevelbook check --deep"),
            Paragraph(
                "This looks at the file itself, part by part, and writes nothing. In the end it says of each part how "
                "many rows it looked at and what is wrong. What it could not look at it says as well, and that never "
                "counts as nothing wrong. It ends with 0 where all was looked at and all is right, with 1 where "
                "anything is wrong or could not be looked at, and with 2 where the file cannot be opened at all: then "
                "bring a copy back."
            ),
            Bullets(
                (
                    "The pages of the file and its indexes, as SQLite tests them; every value against its type, its "
                    "bounds and its words; every reference; tables, indexes, triggers and views against what this "
                    "version makes.",
                    "Each record's versions: each follows one that is there, and each was written by an entry that is "
                    "there, by the same person and on the same day, as were kept results and what came of notes. A "
                    "record that is gone without a word is named.",
                    "Each kept file of notes, read once more: what its rows say is what their records say, cell by "
                    "cell, where nobody changed these, and its lines that were left out are kept as they are. What "
                    "this version reads otherwise than the one that took it is counted, and not compared. Which "
                    "version that was is not kept: where another program removed or added such a line and changed the "
                    "counts of the file to fit, or changed the counts of a file that was read more than once, it says "
                    "only that the file reads otherwise, and ends with 0. Of a file that came with an edition the "
                    "bytes alone are checked.",
                    "Where two records are one: what was written in each reference, by what was typed for it, by its "
                    "version before, by the name of a build and by kept files of notes.",
                    "What follows from the records, worked out once more: runs, oil, losses, words of the shelf, the "
                    "search, names as they show, the build of each row of notes.",
                    "Kept files and pictures, by the hash of their bytes; kept results, each worked out again from the "
                    "inputs kept with it. One of another version, or of a plugin that is not here, is counted with "
                    "the reason. Of one that was typed with ± the verdict is not compared, as the ± is not kept. Of "
                    "each file of notes, that as many rows are kept as left out as it left out.",
                )
            ),
            Paragraph(
                "It cannot know whether what was written down is true, nor whether another program changed a value of "
                "a record that came of no kept file of notes, or that a person changed since, where nothing follows "
                "from it; the words of a past version, what an entry says was asked for and why, an entry that wrote "
                "nothing, what is kept as it was typed, a time within its day, the other names under which a record is "
                "found, what a file of notes was called, the name of its own that a version of a row of notes has, or "
                "the mark that all is invented; nor whether a record was added in the name of an entry that is there, "
                "or taken out together with its whole past and everything that names it. Of two that are one it "
                "cannot know which was written where nobody typed it and no notes have it, nor where both have the "
                "same name. For that, compare with an older copy."
            ),
            Paragraph(
                "Of the small pictures it knows the size alone, of the file that a picture came as nothing: its bytes "
                "are not kept. Of a line of notes that was left out the words of the reason are not compared, nor the "
                "sentences beside a kept result, as a later version says the same in other words, nor where an input "
                "is said to come from. Nor can it know which later line or file closed a line that was left out, "
                "which part of a file was taken and with which settings, whether a cell beside a row has a heading "
                "that the file has, which of the entries that are there another one took back and whether it took one "
                "back at all, the version and the fingerprint of the calculator beside a kept result, when a picture "
                "was kept, when the file was brought to a step, the mark by which copies of one book know each other "
                "where it is gone, blanks around a label, or a build that is said to be like itself. A large file "
                "takes a minute or more, and others may write meanwhile: it looks at the file as it was at the start."
            ),
            Paragraph(
                "Nor does it know whether a mark of what was erased was taken out, added, or given the number of "
                "another in its place: nothing else in the book says what was erased. A mark that says what no "
                "erasing writes it names, and a merge does not take that over: it keeps the mark that stands in the "
                "book, and names the difference. Merge no book of which you doubt the rest."
            ),
            Paragraph(
                "Where the folder cannot be written (another person's, a card with its lock on), every command that "
                "only reads works as well. Changes that still lie beside the file (-wal) are read from a copy of both "
                "among the system's temporary files; only you can look into it, and it goes when the command ends."
            ),
        ),
    )


def _bringing_back() -> Section:
    return Section(
        "Bringing one back",
        (
            CommandLine("bevelbook backup --bring-back bevelbook-2026-05-24-1832.db"),
            Bullets(
                (
                    "Stop 'bevelbook enter' and 'bevelbook serve' first: while a program has the book open nothing is "
                    "moved, and it says so.",
                    "The book as it is now stays beside it, with before-bring-back and the time in its name, also "
                    "where it is damaged. To change your mind, bring that one back.",
                    "The copy itself stays where it is. One that is damaged or made by a newer version is refused, and "
                    "copies that are whole are named. One of another book is refused unless you say so.",
                    "Paired phones stay paired. What was entered after the copy is not in it: what still waits on a "
                    "phone is handed over as always.",
                )
            ),
        ),
    )


def _damaged() -> Section:
    return Section(
        "A file that is damaged",
        (
            Paragraph(
                "A command says that the file is damaged: bring back a copy, and keep the damaged file. Where there is "
                "no copy, or the last one is too old, take out what can still be read:"
            ),
            CommandLine("bevelbook export --rescue saved"),
            CommandLine("bevelbook --db rescued.db new --from saved/export"),
            Bullets(
                (
                    "It reads the file page by page and never writes to it. A row on a good page is kept, whatever "
                    "happened to the others.",
                    "saved/lost.csv has all that is missing or not as it was, with its table, its record or page, and "
                    "why. The command ends with 1 where there is anything.",
                    "A record that lay on a spoiled page, and that others refer to, is put together from its past or "
                    "from indexes, or gets a name that begins with lost: write down what you know of it.",
                    "Of builds, runs and bottles that show who wrote them, since others have their names, the written "
                    "name is given back. Where it is not certain, or where it is lost which of two records that are "
                    "one was written, the list says so. A merge into a book that still has it changes nothing there.",
                    "It says what of the file does not agree with itself, as far as that can be seen: another program "
                    "may have changed records in it. A merge into a book that has them changes none, and names each "
                    "that says something else.",
                    "A row that no book can hold, such as a weighing of a build that is gone, is in "
                    "saved/left_over.ndjson as it was read.",
                )
            ),
        ),
    )


def _copying_by_hand() -> Section:
    return Section(
        "Copying the file by hand",
        (
            Paragraph(
                "'bevelbook backup' is safe at any time; copying is safe while no program has the book open. Where a "
                "file with the same name and -wal lies beside it, the newest rows are in that: copy both together, and "
                "never lay one beside a book of another day: with a -wal of an older state rows come or go unseen."
            ),
        ),
    )


def _who_reads() -> Section:
    return Section(
        "Who else can read these files",
        (
            Paragraph(
                "A new book, its copies, what SQLite keeps beside it and the files of rejected rows can be read and "
                "written by you alone, not by others who use the same computer. On Windows the folder decides. A file "
                "that is there already stays as it is: of one that everybody can read 'bevelbook check' says so. What "
                "you write to give away, such as an export or a card, is as open as your system makes files."
            ),
        ),
    )
