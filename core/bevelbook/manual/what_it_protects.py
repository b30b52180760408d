"""What is promised about who reads and who writes, and what is not: nothing here is promised that no test holds."""

from __future__ import annotations

from typing import Final

from bevelbook.manual.contents import Bullets, CommandLine, Entries, ManualEntry, ManualPage, Section
from bevelbook.pictures.limits import READABLE_WORDS

TOPIC: Final = "protects"
CAUTIONS: Final = (
    "Nothing is encrypted: not the book, not its copies, not what waits on a phone. Who has the disk, the stick or the "
    "unlocked phone reads it.",
    "The pages speak plain http. Who is in the same network can read along, and with what was read write as that "
    "phone.",
    "A plugin is a program. It can do whatever you can do on this computer.",
)
"""What people most often take for granted, and should not."""


def what_it_protects_page() -> ManualPage:
    """Who can read and write a book, what a stranger's file can do, and what nobody is kept from."""
    return ManualPage(
        TOPIC,
        "What it protects",
        "Who can read the book, who can write into it, what somebody else's file can do to it. And what is not "
        "protected, so that nobody relies on it.",
        (
            Section("", (Bullets(CAUTIONS),)),
            Section("Who can read", (Entries(_READ),)),
            Section("Who can write", (Entries(_WRITE),)),
            Section("A phone is lost", (CommandLine("bevelbook enter --end PHONE"), Bullets(_LOST))),
            Section("What comes from somebody else", (Entries(_FROM_OUTSIDE),)),
            Section("What goes out", (Entries(_GOES_OUT),)),
            Section("What is not promised", (Bullets(_NOT_PROMISED),)),
        ),
    )


_READ: Final = (
    ManualEntry(
        "this computer",
        "Started without --host, serve and enter answer this computer alone. That is everybody who uses it at that "
        "time: another user of it can open the pages while they are served. The files of the book are yours alone.",
        topic="backup",
    ),
    ManualEntry(
        "your network",
        "With --host every device in that network reads all of it: names, notes, photographs, the past. A code is "
        "needed to write, none to read. Questions in SQL are off there unless you allow them.",
        topic="network",
    ),
    ManualEntry(
        "a web page elsewhere",
        "A page that you have open in your browser cannot read the book, send a form to it, or show it in a frame. "
        "The laptop answers under its own names and addresses alone.",
        topic="network",
    ),
    ManualEntry(
        "another user of this computer",
        "Cannot open the book, its copies, the rows that an import left out, nor the pairings: these files are made "
        "for you alone. On Windows the folder decides. Who administers the computer reads everything.",
        topic="backup",
    ),
    ManualEntry(
        "a thief of the laptop",
        "Reads everything. Have the system encrypt the disk, and lock the screen in the pits.",
    ),
)
_WRITE: Final = (
    ManualEntry("serve", "Nobody, whatever is asked. A file that is only served stays byte for byte as it is."),
    ManualEntry(
        "enter",
        "Paired phones. A code has eight digits and pairs one phone. After five wrong ones within a minute their "
        "device waits, after twenty the code is another.",
        topic="network",
    ),
    ManualEntry(
        "a paired phone",
        "Writes records, changes them and takes back, imports sheets, hangs photographs, gives and gathers a weekend. "
        "Each save is an entry with a name and a time, and can be taken back. It cannot erase anything for good, nor "
        "bring a copy back, nor pair another phone: that takes the laptop. Whoever holds the phone may say who holds "
        "it, so the name is what the phone said, not a proof.",
    ),
    ManualEntry(
        "a program beside it",
        "A program of yours that opens the file can change anything, the past too. 'bevelbook check' says so as a "
        "rule, not where it was made to go unseen. A trigger or a view that it left there does not act.",
    ),
)
_LOST: Final = (
    "It holds at once, also while enter runs. 'bevelbook enter --phones' names them all.",
    "What it stored stays. What waits on it stays on it, readable for who unlocks it, and is not handed over any more.",
    "What was read on it, a browser may keep for a while: pages of enter are not kept, photographs are.",
)
_FROM_OUTSIDE: Final = (
    ManualEntry(
        "a database, an export, a weekend",
        "Taken as data by merge and gather: nothing in it runs, each value is looked at, and a copy of your book is "
        "kept before. It can still say what is not so: look at who wrote it.",
        topic="meeting",
    ),
    ManualEntry(
        "a sheet or a workbook",
        "Nothing in it runs. One that is damaged, too large or made to hold up the reading is refused in words.",
        topic="import",
    ),
    ManualEntry(
        "a picture",
        f"Drawn again without place, phone and time. Anything but {READABLE_WORDS}, or with too many points, is "
        "refused.",
        topic="photographs",
    ),
    ManualEntry(
        "a text",
        "Shown as text on every page, card, label and site: none runs in a browser. A sign that only turns the "
        "direction of writing can still make one name look like another.",
    ),
    ManualEntry(
        "a plugin",
        "Tried before it is used, so that a faulty one holds nothing up. That does not lock it in: take plugins from "
        "people whom you would let use your computer.",
        topic="plugins",
    ),
)
_GOES_OUT: Final = (
    ManualEntry(
        "what was erased",
        "Gone from the book, its past and its search, up to what erasing does not reach.",
        topic="erasing",
    ),
    ManualEntry(
        "an edition",
        "Made to be given away, without people and days if you say so. Read it before: what a note tells in other "
        "words nobody finds.",
        topic="edition",
    ),
    ManualEntry(
        "a table for a spreadsheet",
        "An export puts a sign before a text that a spreadsheet would run. The CSV of a page has texts as they were "
        "typed: open those of an export.",
        topic="package",
    ),
    ManualEntry(
        "the internet",
        "Nothing is fetched from it and nothing sent to it. Only gathering a weekend asks another machine, in a "
        "private network, when you say so.",
    ),
)
_NOT_PROMISED: Final = (
    "That the pages stay quick. One question cannot stop the server or fill its memory, but a device in the network "
    "can ask without end.",
    "That nobody reads along. For visitors from elsewhere put a server with https in front: 'bevelbook help serving'.",
    "That the book is what it was. Who can write the file can change the past in it; keep copies elsewhere.",
    "That a deleted file is gone from the disk.",
)
