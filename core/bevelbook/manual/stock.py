"""Stock for people: counting parts, kits, bottles on the scale, what is taken off and what is not."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.vocabulary import STOCKED_PARTS
from bevelbook.facts.bottles_left import NOISE_G, SHARES
from bevelbook.manual.contents import Bullets, CommandLine, ManualPage, Paragraph, Section
from bevelbook.planning.parts_wanted import BUILDS_LOOKED_AT

TOPIC: Final = "stock"


def stock_page() -> ManualPage:
    """Everything about stock that a person has to know."""
    return ManualPage(
        TOPIC,
        "Stock",
        "Have I the rings and the oil for Saturday? Only what you count is kept; a team that counts nothing sees "
        "none of it.",
        (
            Section(
                "Count parts",
                (
                    CommandLine('bevelbook record stock-part label="shaft rings" part=seal seal="5 x 1.5" least=8'),
                    CommandLine('bevelbook record stock-change stock_part="shaft rings" counted=12'),
                    CommandLine('bevelbook record stock-change stock_part="shaft rings" delivered=10'),
                    Paragraph(
                        f"A part is one of {', '.join(STOCKED_PARTS)}. *Stock* of 'bevelbook enter' counts with a "
                        "finger, all in one go. What you count again settles all that was before it."
                    ),
                    Bullets(
                        (
                            "What a build fits as new since the count is taken off: seals of that kind, parts of that "
                            "side ('both' is two), shims beyond those of the build before.",
                            "What is not noted well enough is not taken off, and is said: a new seal without its kind, "
                            "an outdrive without its side, a part that fits two boxes, a diff's first shims.",
                            "A build of the day of the count counts as after it where it was written down after it. "
                            "One from a sheet of notes counts as before.",
                            "Where more was used than there were, 'check' says in one line what to count again. A "
                            "build is never refused for it.",
                        )
                    ),
                ),
            ),
            Section(
                "Kits",
                (
                    CommandLine('bevelbook record kit-part kit="rebuild kit" stock_part="shaft rings" pieces=4'),
                    CommandLine('bevelbook record stock-change kit="rebuild kit" delivered=2'),
                    Paragraph("A kit that came is one entry with all that is in it."),
                ),
            ),
            Section(
                "Bottles",
                (
                    CommandLine('bevelbook record bottle fluid="house 7k" lot=B2 full_mass=71.4 empty_mass=11.2'),
                    CommandLine('bevelbook record bottle-check bottle="house 7k, B2" mass=41.3'),
                    CommandLine('bevelbook record bottle-check bottle="house 7k, B2" level="about half"'),
                    Bullets(
                        (
                            "On the scale with its cap on: what is left is that less the empty mass, less what builds "
                            "took since. The scale overrules the sum of what was poured.",
                            "Without a reading, but with both masses: at most what was in it less all that was poured. "
                            "Spills and what stayed in the syringe are in no record.",
                            "Of a blend a build took at least its share of what went in, and at most all that was "
                            "mixed. Of an oil change without a wash some of the oil is the old one.",
                            f"By eye: words alone, and grams where both masses are known. {_levels()} This is our own "
                            "proposal.",
                            f"A reading more than {NOISE_G:g} g under the empty mass or over the full one is refused "
                            "(our own figure): weigh it again.",
                        )
                    ),
                ),
            ),
            Section(
                "What a plan takes",
                (
                    Paragraph(
                        "A diff that is opened takes a new seal where the old one reached your limit of uses or was "
                        "found not sound, a part that was found worn and not replaced since, and a gasket where a new "
                        f"one went in each time, in the last {BUILDS_LOOKED_AT} builds (our own figure). Nothing else "
                        "is assumed: where seals are not noted, the plan says so. Diffs take what is there in the "
                        "order of the plan."
                    ),
                ),
            ),
        ),
    )


def _levels() -> str:
    said = [f"{level} is {least:.0%} to {most:.0%} of it" for level, (least, most) in SHARES.items()]
    return f"{'; '.join(said)}.".capitalize()
