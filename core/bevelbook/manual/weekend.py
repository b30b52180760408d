"""A weekend sent in a chat, or gathered at the track: the parts of the topic about laptops that come together."""

from __future__ import annotations

from collections.abc import Iterator

from bevelbook.manual.contents import Bullets, CommandLine, Paragraph, Section


def weekend_sections() -> Iterator[Section]:
    """What was new since a day, as one file and by a code."""
    yield Section(
        "Only the weekend",
        (
            Paragraph("What was touched since a day fits into one file, small enough for a chat:"),
            CommandLine("bevelbook export --since 2026-05-01 weekend.zip"),
            CommandLine("bevelbook merge weekend.zip"),
            Bullets(
                (
                    "It says first what goes: how much, whose names, and how large it is. Remarks go as they were "
                    "written.",
                    "Each record goes whole, with all that was ever written into it, and so does whatever it refers "
                    "to: an old build that ran that day, its oil, who made it. So it opens anywhere, in an empty "
                    "database too.",
                    "Photographs and files of notes go without what is in them, unless you say --with-files. A page "
                    "then says with whom the picture is, and 'bevelbook check' lists what is not here. It comes when "
                    "a whole export, or the database, of that person is merged.",
                    "Without the file itself a sheet is not read again, and an import is not taken back where that "
                    "file might hold the same rows; all else works.",
                    "Take the day before you last had everything from each other. A day too early does no harm: what "
                    "is here already is not added again.",
                )
            ),
        ),
    )
    yield Section(
        "At the track, from laptop to laptop",
        (
            Paragraph(
                "With 'bevelbook enter' on both laptops, in one network, nothing has to be sent. On the laptop that "
                "gives, on its bench: *Give my weekend*, since when, with pictures or without. It says what would go, "
                "then shows an address and a code. On the laptop that gathers: *Gather from another laptop*, the "
                "address and the code. It says what would come; *Take it in* stores it, *Leave it* does not."
            ),
            Bullets(
                (
                    "The laptop that gives lets the network in: "
                    "'bevelbook enter --host 0.0.0.0 --allow-network'. The one that gathers need not.",
                    "A code is for one fetch and stands for ten minutes. Wrong codes make whoever types them wait.",
                    "The laptop that gives says afterwards who fetched it, when, and from which address.",
                    "It is fetched only when somebody touches the button, only from the address that was typed, and "
                    "only within your own network: numbers such as 192.168.1.7:8002, no names.",
                    "A copy of the book as it was before is kept beside it, as with 'bevelbook merge'.",
                    "Plain http is not private: whoever is in that network can read along, names and remarks too. Use "
                    "a network of your own, such as a phone's hotspot, not that of the hall.",
                )
            ),
        ),
    )
