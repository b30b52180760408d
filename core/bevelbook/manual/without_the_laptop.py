"""What a phone keeps while the laptop does not answer, how it is handed over, and what it may still lose."""

from __future__ import annotations

from typing import Final

from bevelbook.manual.contents import Bullets, CommandLine, Entries, ManualEntry, ManualPage, Paragraph, Section

MAY_LOSE: Final = (
    "A page that is closed cannot be opened again without the laptop: the browser has nothing to open it from. What "
    "was kept is still on the phone, but the next run cannot be noted. Leave the page open.",
    "What is typed and not yet stored is on the screen alone. A phone that is switched off, or a browser that the "
    "phone shuts to make room, loses it. Store a run so far as soon as its temperatures are typed.",
    "A private window keeps things only until it is closed, and some keep nothing: then the page says so.",
    "A browser may drop what waits where the phone is short of room, or where its address was not opened for a week. "
    "Nobody can see afterwards that it was there. Hand over the same day.",
    "Who clears the browser's data, or takes the browser off the phone, clears what waits.",
    "A phone that is lost, broken or wet takes along what waits on it.",
    "Each entry waits for the address and the port at which its page was opened: at another one it is not seen.",
)


def without_the_laptop_page() -> ManualPage:
    """How the pits go on without the laptop, and what may be lost."""
    return ManualPage(
        "waiting",
        "Without the laptop",
        "At the track the network goes, or the laptop sleeps. A paired phone goes on taking runs, weighings and "
        "remarks, keeps them, and hands them over when the laptop is back.",
        (
            Section(
                "How it works",
                (
                    Paragraph(
                        "Open Note a run on the phone while the laptop is there, and leave that page open. It carries "
                        "along what it needs: the cars, the diffs in each, what is carried over. Another car is chosen"
                        " without the laptop, and below the run a diff is weighed and an idea noted."
                    ),
                    Paragraph(
                        "Each entry is kept on the phone first, and only then sent. With the laptop there its answer "
                        "follows as ever. Without an answer within a few seconds the page says 'Kept on this phone: 1 "
                        "waits. The form is free for the next one.' The next run is as in the run before, also "
                        "where that one waits. Air and track are carried over for as long as with the laptop; the "
                        "page says when they are too old."
                    ),
                    Paragraph(
                        "A number that cannot be, or that is far from usual, is asked about before it is kept, so that"
                        " little needs a look later."
                    ),
                ),
            ),
            Section(
                "Hand it over",
                (
                    Paragraph(
                        "On top of every page of that phone stands how many wait and how long the oldest has. They are"
                        " handed over one by one, in the order in which they were noted, each once: when a page opens "
                        "or comes back into view, with the next entry, on 'Hand over now', and every 30 seconds while "
                        "the page is seen. The laptop knows an entry that it has stored already."
                    ),
                    Entries(
                        (
                            ManualEntry(
                                "needs a look",
                                "The laptop asks something, or the entry is from an older page. What was typed waits,"
                                " and what follows waits behind it. 'Look at it' opens its page with all of it.",
                            ),
                            ManualEntry(
                                "no longer paired",
                                "The pairing was ended meanwhile. Pair the phone again: what waits is still there, "
                                "and is written by whoever holds the phone then.",
                            ),
                            ManualEntry(
                                "the day",
                                "An entry is of the day on which it was noted. A phone's clock that is wrong changes "
                                "nothing; where a clock was changed meanwhile, the laptop asks which day it was.",
                            ),
                            ManualEntry(
                                "Change it",
                                "Puts an entry that waits back into its form. Stored again it keeps its place and its "
                                "time; until then nothing behind it is handed over.",
                            ),
                            ManualEntry(
                                "Drop it", "Throws an entry away, with a second tap. It is not in the book then."
                            ),
                        )
                    ),
                ),
            ),
            Section(
                "If the laptop does not come back",
                (
                    Paragraph(
                        "'As text' marks all that waits, to be copied into a message. 'As a file' saves it as a note "
                        "file for another day:"
                    ),
                    CommandLine("bevelbook import bevelbook-waiting-2026-05-03.csv"),
                    Paragraph(
                        "A row of notes has one diff, so a run comes in with its rear diff, else the next; what "
                        "another diff read is in its remark. Ideas, and weighings of which it is not said what was on "
                        "the scale, are not in the file: the page names them, and 'As text' has them. Drop on the "
                        "phone what was brought in, or it is stored a second time when the laptop comes back."
                    ),
                ),
            ),
            Section("What a phone may still lose", (Bullets(MAY_LOSE),)),
        ),
    )
