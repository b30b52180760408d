"""One laptop for everybody at the track: whom it lets in, under which address, and what phones do not find."""

from __future__ import annotations

from typing import Final

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

CAUTIONS: Final = (
    "Whoever is in the network can read everything in the book: records, names, photographs, kept files, and what "
    "stood there before it was changed or removed. Use a network of your own, such as a phone's hotspot, and none "
    "that a hall gives to everybody. To show the book to others, give them an edition.",
    "Plain http is not private: whoever is in the network can read along.",
    "The laptop takes no request under a name that is not its own, so that no page elsewhere reads the book through "
    "your browser. It does not keep out a device that is in the network: 'bevelbook help protects' has it all.",
)


def one_laptop_page() -> ManualPage:
    """How the pages of one laptop get to the phones around it."""
    return ManualPage(
        "network",
        "One laptop at the track",
        "Started without more, serve and enter are for this computer alone. With --host the phones around it see the "
        "pages too: with serve they read, with enter those that are paired write.",
        (
            Section(
                "Open it",
                (
                    CommandLine("bevelbook serve --host 0.0.0.0 --qr"),
                    CommandLine("bevelbook enter --host 0.0.0.0 --allow-network"),
                    Paragraph(
                        "Each prints every address that a phone can type, and --qr shows one as a code to scan "
                        "(pip install 'bevelbook[labels]'). 0.0.0.0 stands for every network of the laptop; with one "
                        "of its addresses in its place only that network is let in. Phone and laptop have to be in the "
                        "same network. Some networks of halls and camp sites keep their devices apart, and a laptop's "
                        "own firewall may ask once whether Python may be reached: say yes for your own network alone."
                    ),
                    Cautions(CAUTIONS),
                ),
            ),
            Section(
                "A name that stays",
                (
                    Paragraph(
                        "In another network the laptop has other numbers, and an address on a label, in a bookmark or "
                        "of a paired phone would lead nowhere. So the laptop says its name there: team.db is found as "
                        "team.local, with the port behind it. It needs pip install 'bevelbook[announce]'; without it "
                        "nothing is said and the numbers still work."
                    ),
                    CommandLine("bevelbook serve --host 0.0.0.0 --name pits"),
                    Entries(
                        (
                            ManualEntry("--name pits", "The laptop is pits.local in its networks."),
                            ManualEntry(
                                "--name bench.lan",
                                "A name that your router gives it: it is answered, and nothing is said in the network.",
                            ),
                            ManualEntry(
                                "some phones cannot find it",
                                "Older ones do not ask for such names. Type the address with numbers that is printed "
                                "beside it; the code of serve has numbers for that reason. What is noted on a paired "
                                "phone waits for the address at which its page was opened.",
                            ),
                            ManualEntry(
                                "another machine has the name",
                                "A team mate's laptop with a copy of the book, say. It is said, and the book goes "
                                "without the name: give each laptop its own.",
                            ),
                            ManualEntry(
                                "a port in use",
                                "serve takes the next free one and says so: an address with the old one leads "
                                "elsewhere. enter keeps its own, which its phones know.",
                            ),
                        )
                    ),
                ),
            ),
            Section(
                "What is off",
                (
                    Bullets(
                        (
                            "Questions in SQL: taken from this computer, and in a network only with --allow-sql; "
                            "--no-sql refuses them here too. A heavy one holds up all phones.",
                            "Search engines: each answer and /robots.txt ask them to stay out. --index of serve lets "
                            "them in. Under plain Datasette the setting index of the plugin bevelbook does.",
                            "Frames: no page of another place can show these pages inside its own.",
                        )
                    ),
                ),
            ),
            Section(
                "While it runs",
                (
                    Paragraph(
                        "The pages show what other commands change meanwhile: record, import, merge. Ctrl+C stops it, "
                        "within two seconds, and takes its name back from the network. A laptop that sleeps closes the "
                        "book. Carried into another network it says its name there within a quarter of a minute."
                    ),
                ),
            ),
        ),
    )
