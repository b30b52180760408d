"""Photographs for people: what is kept of a picture, what is not, and who gets to see it."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.vocabulary import PHOTO_PIECES, PHOTO_SIDES
from bevelbook.manual.contents import Bullets, CommandLine, ManualPage, Paragraph, Section
from bevelbook.pictures.limits import (
    AIM_BYTES,
    LIMIT_WORDS,
    LONG_SIDE_PX,
    QUALITIES,
    THUMBNAIL_BYTES,
    THUMBNAIL_SIDE_PX,
)
from bevelbook.pictures.prepare import TO_JPEG
from bevelbook.pictures.reader import INSTALL

TOPIC: Final = "photographs"


def photographs_page() -> ManualPage:
    """Everything about photographs that a person has to know."""
    return ManualPage(
        TOPIC,
        "Photographs",
        "A groove in an outdrive, a swollen seal, the oil that came out: a picture says it better than words.",
        (
            Section(
                "Take one",
                (
                    Paragraph(
                        "A photograph hangs on one thing: an opening, a part or a seal of a build, a build, or a "
                        f"bottle. Say what is seen ({', '.join(PHOTO_PIECES)}) and where ({', '.join(PHOTO_SIDES)}). "
                        "'bevelbook enter' has a button for it; on the command line name the file."
                    ),
                    CommandLine(
                        'bevelbook record photo --file groove.jpg build=rear-a/3 piece=outdrive side="lid side"'
                    ),
                    CommandLine('bevelbook record photo "rear-a/3 outdrive lid side" --save-as copy.jpg'),
                    Paragraph(f"Pictures are read with one more library: {INSTALL}. All else works without it."),
                ),
            ),
            Section(
                "On the pages",
                (
                    Bullets(
                        (
                            "Under 'bevelbook enter' the pages of a diff, a build, a part, a bottle and an opening "
                            "lead to the form, and so does the bench where you note what is found. Take it now or "
                            "choose one that was taken before, touch what is seen and the side, store it; *Another "
                            "one* keeps both.",
                            "A photograph goes to the laptop at once and does not wait on the phone: without the "
                            "laptop the page says so, and the picture stays in it as long as you leave it open. A "
                            "picture sent twice is stored once. Without a script the form works too, but a picture "
                            "has to be chosen again where something was wrong.",
                            "Small ones are on the pages of what they show, the newest first; a touch shows one as "
                            "wide as the screen, another one the picture alone, to see it nearer with two fingers.",
                            "A piece that was photographed in several builds of a diff is shown beside itself, the "
                            "newest first: a groove is judged against the last time.",
                            "Piece, side, note and day are corrected like those of any record; a photograph is "
                            "taken back or removed like any other.",
                        )
                    ),
                ),
            ),
            Section(
                "What can be read",
                (
                    Bullets(
                        (
                            LIMIT_WORDS,
                            "A file is judged by its content, not its name. Of a moving picture the first one is kept.",
                            f"HEIC, AVIF and RAW files are refused. {TO_JPEG}.",
                        )
                    ),
                ),
            ),
            Section(
                "What is kept",
                (
                    Bullets(
                        (
                            f"The picture turned upright, its long side {LONG_SIDE_PX:,} pixels at most, so that a "
                            f"groove is seen; as JPEG of about {AIM_BYTES / 1e6:.1f} MB. A busy picture is packed "
                            f"harder, down to quality {QUALITIES[-1]}, and then stays larger.",
                            f"A small copy of {THUMBNAIL_SIDE_PX} pixels, under {THUMBNAIL_BYTES // 1000} kB.",
                            "Each picture once, however many photographs show it.",
                            "A photograph that is removed or taken back leaves its picture in the database file, for "
                            "when it comes back: whoever has the file has it too. No page shows it any more, its "
                            "address is gone, and no question in SQL gets it. A phone that showed it before may "
                            "still have it.",
                        )
                    ),
                ),
            ),
            Section(
                "What is never kept",
                (
                    Paragraph(
                        "The place and the time in the file, the phone and its number, comments, profiles, copies "
                        "inside it, and anything behind the picture. The picture is drawn again from its pixels alone. "
                        "The file itself is not kept: the phone still has it."
                    ),
                    Paragraph(
                        "What is in the picture stays in it: a face, a name on a bag, a number plate. Look before you "
                        "store it."
                    ),
                ),
            ),
            Section(
                "Who sees it",
                (
                    Paragraph(
                        "Everybody who may open the database, or reads it in the browser. A copy of the database has "
                        "all photographs in it, removed ones too. They are in no list that is printed or saved as CSV "
                        "or JSON."
                    ),
                ),
            ),
        ),
    )
