"""Labels for people: what is on them, the sheets, how to print them true, what lasts, and what their codes do."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bevelbook.labels import sheet_words
from bevelbook.labels.code import INSTALL, LEAST_MODULE_MM
from bevelbook.labels.layout import LEAST_CAPITAL_MM
from bevelbook.labels.pages import LARGE_HIGH_MM, LARGE_WIDE_MM
from bevelbook.labels.sheets import LEAST_HEIGHT_MM, LEAST_WIDTH_MM, OWN_FORM, PAPERS, SHEETS
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

TOPIC: Final = "labels"


def labels_page() -> ManualPage:
    """Everything about labels that a person has to know."""
    return ManualPage(
        TOPIC,
        "Labels",
        "At the track nobody knows which of four black cases is rear-a/11: a label on its bag says it.",
        (
            Section(
                "Print them",
                (
                    CommandLine("bevelbook labels --html labels.html"),
                    CommandLine(
                        'bevelbook labels rear-a/11 "bottle house 7k B2" --pdf labels.pdf --sheet 63.5x38.1 --skip 4'
                    ),
                    CommandLine("bevelbook labels bags bottles tins --pdf labels.pdf --paper letter"),
                    Paragraph(
                        "Without a name: the builds in use, one for each diff. A name is that of a build, a diff (its "
                        "last build), a bottle or a kind of seal; 'bags', 'bottles' and 'tins' mean all of them. "
                        "'--skip 4' leaves the first four of a begun sheet free. The page of a browser and the PDF "
                        "have the same drawing."
                    ),
                    Paragraph(f"Codes and PDFs are made with further libraries: {INSTALL}"),
                ),
            ),
            Section("Where they go, and what lasts", (Cautions(sheet_words.ALL),)),
            Section(
                "What is on them",
                (
                    Entries(
                        (
                            ManualEntry(
                                "bag",
                                "The build, the mark of its case, its oil with cSt and where that comes from, day and "
                                "builder, its closed mass to compare with, the runs left as boxes to cross out, and "
                                "two lines for weighings. Without a limit of runs it says so and has ten boxes.",
                            ),
                            ManualEntry(
                                "bottle",
                                "The oil as its label names it, cSt at 25 °C with its origin, lot, opened on, what it "
                                "weighs full and empty ('record bottle NAME full_mass=... empty_mass=...'). Whether to "
                                "shake it is nowhere on record: there is a box for each answer.",
                            ),
                            ManualEntry(
                                "tin",
                                "A kind of seal: its size, material and groove, where the team fits it, and two lines "
                                "to count what is left.",
                            ),
                        )
                    ),
                    Bullets(
                        (
                            f"Capitals of a name are {LEAST_CAPITAL_MM:g} mm high or more. A name that has no room so "
                            "is not printed smaller: its label is left out, and that is said.",
                            "Lines that find no room are named before you print. Nothing is cut.",
                            "What is not known is a line to write on.",
                        )
                    ),
                ),
            ),
            Section(
                "The code",
                (
                    Bullets(
                        (
                            f"On labels of {LARGE_WIDE_MM:g} x {LARGE_HIGH_MM:g} mm and more it is a short address, "
                            "such as http://team.local:8002/q/rear-a/11. A phone in the network of the laptop that "
                            "serves the book opens the page of the diff with it; under 'bevelbook enter' with its "
                            "buttons. A build that is no more in its diff opens its own page.",
                            "The address has the database's own name and the port of 'bevelbook enter'. If the laptop "
                            "is found under another: '--address http://NAME.local:PORT'. It is never a number, which "
                            "is another one in the next network. Some phones do not find names that end in .local: "
                            "then type the address of the laptop and /q/ with the name.",
                            "On smaller ones it is the name alone, in capitals, which takes least room: to be looked "
                            "up, or typed after /q/. A name with a letter that such a code does not have (all but A "
                            "to Z, 0 to 9, blank and $ % * + - . / :) stands in it as it is written, in a larger "
                            "code; the command says which.",
                            f"Its dots are {LEAST_MODULE_MM:g} mm or more, with the whole blank edge; it reads with up "
                            "to a quarter of it gone.",
                        )
                    ),
                ),
            ),
            Section(
                "Print them true",
                (
                    CommandLine("bevelbook labels --test --sheet 63.5x38.1 --pdf test.pdf"),
                    Paragraph(
                        "It has outlines alone, and a line of 100 mm. Print it on plain paper at 100 %, not fitted to "
                        "the page, measure the line, and hold it against the light with a sheet of labels."
                    ),
                ),
            ),
            Section(
                "The sheets",
                (
                    Entries(tuple(_sheets()), True),
                    Paragraph(
                        f"Other ones by their measures: '--sheet {OWN_FORM.partition(' or ')[0]}' or with gaps, "
                        "'--sheet 3x7:63.5x38.1:2.5x0'. The margins follow from the paper. A label is "
                        f"{LEAST_WIDTH_MM:g} x {LEAST_HEIGHT_MM:g} mm at least. On a sheet without margins the words "
                        "about paper and glue take the place of its first label."
                    ),
                ),
            ),
        ),
    )


def _sheets() -> Iterator[ManualEntry]:
    for paper in PAPERS:
        for sheet in SHEETS:
            if sheet.paper.name == paper:
                yield ManualEntry(sheet.size, f"{sheet.words}.")
