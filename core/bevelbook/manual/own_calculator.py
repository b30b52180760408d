"""A calculator of your own, from an empty folder to a row in the browser, for who has written a little Python once."""

from __future__ import annotations

from typing import Final

from bevelbook.manual.contents import (
    Bullets,
    CommandLine,
    Entries,
    ManualEntry,
    ManualPage,
    Paragraph,
    Section,
)

LINE_BEFORE: Final = "MOST_OFF_PERCENT = 5.0"
LINE_AFTER: Final = "MOST_OFF_PERCENT = 3.0"
"""The line that the page has one change, and what it becomes."""


def own_calculator_page() -> ManualPage:
    """How a team adds a calculator: begun, changed, tested, kept, seen, handed on."""
    return ManualPage(
        "plugins",
        "A calculator of your own",
        "A calculator is one file of Python. You begin with one that works and change it line by line. The five steps "
        "here lead to a saved row in the browser in ten minutes; a question of your own takes half an hour more, with "
        "the file beside you. The name here is tyre-age: take your own.",
        (
            Section(
                "1. Begin it",
                (
                    CommandLine("bevelbook plugin new tyre-age --to mine"),
                    Paragraph(
                        "Two files are in the folder mine now: tyre_age.py, the calculator, and test_tyre_age.py, its "
                        "test. As it stands it answers where to stop the plunger of a syringe. Try it:"
                    ),
                    CommandLine('bevelbook calc tyre-age --oil-mass "1.5 g" --plugins mine'),
                    Paragraph("It says ok: 1.5 g of oil are 1.55 cm³, and a fill is within 0.05 g."),
                ),
            ),
            Section(
                "2. Change a line",
                (
                    Paragraph(
                        "Open mine/tyre_age.py in any editor. Each part says what it is for; you need not read it all "
                        "now. Say your syringe has to do better. Find this line:"
                    ),
                    CommandLine(LINE_BEFORE),
                    Paragraph("Make it this one, save the file, and ask again:"),
                    CommandLine(LINE_AFTER),
                    CommandLine('bevelbook calc tyre-age --oil-mass "1.5 g" --plugins mine'),
                    Paragraph("Now it says caution: that fill may be 3.2 % off. The limit in the chart moves along."),
                ),
            ),
            Section(
                "3. Test it, look it over",
                (
                    CommandLine("python -m pytest mine"),
                    CommandLine("bevelbook plugin check mine/tyre_age.py"),
                    Paragraph(
                        "The first runs your tests (python -m pip install pytest, once). The second looks the rest "
                        "over: each thing that is wrong has its line and what to write instead."
                    ),
                ),
            ),
            Section(
                "4. Keep a result",
                (
                    Paragraph("In a book to play with. In your own leave out the first three, and name a build of it:"),
                    CommandLine("bevelbook new --db try.db"),
                    CommandLine("bevelbook record diff label=rear-a --db try.db"),
                    CommandLine("bevelbook record build diff=rear-a built_on=2026-05-03 oil_mass=1.5g --db try.db"),
                    CommandLine("bevelbook calc tyre-age --for rear-a/1 --keep --db try.db --plugins mine"),
                    Paragraph("The oil came from the build: its line in the file says same_as."),
                ),
            ),
            Section(
                "5. See it",
                (
                    CommandLine("bevelbook serve --db try.db --plugins mine"),
                    Paragraph(
                        "Open the address that it prints. Calculators lists yours, with form, example and chart. What "
                        "was kept is in the view calc_tyre_age, and on the page of the build. Ctrl+C stops it."
                    ),
                ),
            ),
            Section(
                "A question of your own",
                (
                    Bullets(
                        (
                            "Read the file from top to bottom, and change one part at a time: Inputs, Outputs, "
                            "compute, judge, the worked example. Run plugin check after each.",
                            "The worked example and the tests go with the formula: they fail until they are right "
                            "again. Write those of the syringe again for yours.",
                            "With --plugins mine behind record too, each new build has its result kept at once: the "
                            "file says kept_after.",
                            "So that --plugins need not be typed each time, set BEVELBOOK_PLUGINS to the folder, with "
                            "its whole path.",
                            "The rows of the listing are in calc_tyre_age_rows; calc_tyre_age_latest has of each "
                            "record what counts now.",
                        )
                    ),
                ),
            ),
            Section(
                "What holds",
                (
                    Bullets(
                        (
                            "The same inputs give the same result: compute and judge read no clock, no file, no "
                            "database, and keep nothing between two calls.",
                            "Every formula, limit and example has a source. What you invented says so.",
                            "Once a result was kept, raise version where a number changes: older rows stay, each "
                            "with its version, and outputs that you took out stay as columns. Of each record the last "
                            "row of the highest version counts, so never lower it. Where you forget, calc, check and "
                            "the page say how many results another formula kept.",
                            "A plugin is a program: load only what you wrote or trust. It runs with your rights.",
                            "What does not load, or fails, is left out and named; all else goes on working.",
                        )
                    ),
                ),
            ),
            Section(
                "Further",
                (
                    Entries(
                        (
                            ManualEntry(
                                "bevelbook plugin list",
                                "Every plugin with where it is from, what it offers, and why one did not load.",
                            ),
                            ManualEntry(
                                "bevelbook plugin new tyre-age --package",
                                "A project that team mates install: python -m pip install -e tyre-age. It needs no "
                                "--plugins then. To pip it is bevelbook-tyre-age.",
                            ),
                            ManualEntry("bevelbook help units", "The units, and how the name of a field ends in each."),
                            ManualEntry("bevelbook help tables", "The columns that same_as and a chart may read."),
                            ManualEntry("bevelbook help Calculator", "All that a calculator may declare."),
                            ManualEntry(
                                "bevelbook help hooks",
                                "Checks, charts of what was written down, tables, profiles, units: an example of each, "
                                "and every name to import.",
                            ),
                        )
                    ),
                ),
            ),
        ),
    )
