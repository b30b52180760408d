"""How the laptops of a team come together: who sends what to whom, what a clash is, and what a merge never does."""

from __future__ import annotations

from typing import Final

from bevelbook.manual.contents import Bullets, CommandLine, ManualPage, Paragraph, Section
from bevelbook.manual.weekend import weekend_sections

TOPIC: Final = "meeting"


def meeting_page() -> ManualPage:
    """Everything about laptops that come together that a person has to know."""
    return ManualPage(
        TOPIC,
        "How laptops come together",
        "Three laptops of one team wrote down their weekend apart. On Sunday evening each of them gets what the others "
        "have, and in the end all hold the same.",
        (
            _sunday_evening(),
            *weekend_sections(),
            _what_holds(),
            _clashes(),
            _of_equal_names(),
            _never(),
            _who_wrote_it(),
        ),
    )


def _sunday_evening() -> Section:
    return Section(
        "On Sunday evening",
        (
            Paragraph(
                "Everybody sends what they have to the others, by a stick, a chat or the network: the database file "
                "itself, with 'bevelbook' not running on it, or what 'bevelbook export' wrote. Each then brings in "
                "what came, one after the other:"
            ),
            CommandLine("bevelbook merge bo.db --dry-run"),
            CommandLine("bevelbook merge bo.db"),
            CommandLine("bevelbook merge cy.zip"),
            Bullets(
                (
                    "The first line says what would come and changes nothing: who wrote what, and what would be in "
                    "clash.",
                    "The order does not matter, and neither does the way round: anna may bring in bo's, or bo anna's. "
                    "Once everybody has everybody's, all laptops show the same.",
                    "Twice does no harm: what is here already is not added again. The same sheet imported on two "
                    "laptops adds nothing either.",
                    "It is enough that one laptop gathers from all others and sends what it has then to each of them.",
                    "A database of an older version is brought up to date in a copy; the file that was sent is only "
                    "read.",
                )
            ),
        ),
    )


def _what_holds() -> Section:
    return Section(
        "What comes, and what is shown",
        (
            Paragraph(
                "All of it comes: records with their past, photographs, files of notes with their rejected rows, kept "
                "results, and the entries with who made them and when. A record that only one laptop changed shows "
                "that change. What follows from the records, such as oil lost, shelf and runs, is worked out again."
            ),
            Paragraph(
                "Rows of notes are put on the build that they belong to. If a row would become a build of its own by "
                "that, or stop being one, 'bevelbook check' says so, and 'bevelbook check --place' does it."
            ),
            Paragraph(
                "If several people wrote down one build of a day, the book has it several times, and the last of them "
                "is what the shelf goes by: a loss that was weighed on another one no longer counts. The merge says "
                "so, and 'bevelbook check' has the commands that leave one of them."
            ),
        ),
    )


def _clashes() -> Section:
    return Section(
        "Clashes",
        (
            Paragraph(
                "A clash is a record that two laptops changed apart, each without the other's change. Nothing is lost: "
                "all versions are kept, and until somebody says which holds, the one that was written last is shown, "
                "on every laptop the same one. The first page and 'bevelbook check' say it, and so do the page of the "
                "record and its card."
            ),
            Paragraph("'bevelbook check' gives each version a number. Say which one holds:"),
            CommandLine('bevelbook merge --settle "build rear-a/12" 2'),
            CommandLine('bevelbook merge --settle "build rear-a/12" 46.13g'),
            CommandLine('bevelbook merge --settle "run 2026-05-03/1" both'),
            CommandLine('bevelbook merge --settle "build rear-a/12" 2+others'),
            Bullets(
                (
                    "By the number; by the value, where they differ in one field; or *both*, where one changed one "
                    "field and the other another: then all changes hold, of however many.",
                    "*2+others*: what version 2 says where they contradict each other, and beside it all that the "
                    "others changed and nobody disputes, such as a note.",
                    "Under 'bevelbook enter' touch the version that is right.",
                    "If another version came in meanwhile, the numbers may be others: the printed command has a mark "
                    "(--seen), and with it nothing is settled then.",
                    "Removed in one place and changed in another: the changed one is shown, and the clash says who "
                    "removed it. Removed, but something else needs it: it is back until nothing does.",
                    "Settling is an entry like any other. It goes along with the next merge, and the others need not "
                    "settle it again; 'bevelbook take-back' takes it back, and the clash is there again. Where two "
                    "settle it apart in two ways, that is a clash.",
                )
            ),
        ),
    )


def _of_equal_names() -> Section:
    return Section(
        "Two names for one thing, one name for two",
        (
            Paragraph(
                "A diff, an oil, a venue, a car, a scale or a person of one name is one on all laptops. What has two "
                "names is joined by a command, and what only looks alike is asked about:"
            ),
            CommandLine("bevelbook join diff rear-a rear-A"),
            Paragraph(
                "Builds, runs and bottles of one name stay two, such as the twelfth build of rear-a that anna made and "
                "the one that bo made: they are shown with who wrote them, and a command that names one asks which."
            ),
        ),
    )


def _never() -> Section:
    return Section(
        "What a merge never does",
        (
            Bullets(
                (
                    "It never throws a version away, and never decides which of two is right.",
                    "It never changes a record for one that another program changed in the other book without a "
                    "version of its own, nor the past of one. What stands here stays, and each such difference is "
                    "named: which record and field, what stands here and there, and the command that enters the other "
                    "value if that is right. Each merge names it again, with exit code 1, until somebody enters the "
                    "other value, or both go on with one book.",
                    "Nor does it change who wrote what when, a result that was kept, or what was noted of a file of "
                    "notes, for what another program made of these: that is named in the same way. No command changes "
                    "them, so whoever has them right goes on, and the others go on with a copy of that book. The same "
                    "holds for rows left out of a file. Only where two laptops may each have read it, no row says "
                    "which of them left it out: of two that differ, both books come to have the same one.",
                    "What another program changed there with a version, but in nobody's name, looks like what somebody "
                    "did, and comes in as a change. The merge names it, with exit code 1, and 'bevelbook check' names "
                    "it until somebody accepts it.",
                    "It never changes the file that was sent, and never runs anything that is in it.",
                    "It is nobody's entry, so it cannot be taken back as one. A copy of the database as it was is kept "
                    "beside it: 'bevelbook backup --bring-back FILE' puts it back, and what was entered since is then "
                    "noted again. A single entry of somebody else is taken back as always, with --of and the name.",
                    "It never mixes what is invented with what you measured, unless you say so.",
                    "It never brings in phones that are paired, the settings of a laptop, or calculators.",
                )
            ),
        ),
    )


def _who_wrote_it() -> Section:
    return Section(
        "Who wrote it",
        (
            Paragraph(
                "'bevelbook history' lists the entries of all, each with who made it. The number before an entry is "
                "this laptop's own, in the order in which they came in: it stays the same entry's after a merge, and "
                "is another one on another laptop. 'bevelbook history RECORD' shows where a record went two ways and "
                "where that was settled."
            ),
            Paragraph(
                "Whoever gets the file gets all of it: names, remarks, photographs, also what was removed. Send it to "
                "your team only."
            ),
        ),
    )
