"""What can be taken out for good, what stands there then, and what is not reached."""

from __future__ import annotations

from bevelbook.manual.contents import Bullets, CommandLine, ManualPage, Paragraph, Section


def erasing_page() -> ManualPage:
    """A person, a note or a photograph taken out for good."""
    return ManualPage(
        "erasing",
        "Taking something out for good",
        "A record that is changed or removed keeps its past. Erasing takes a person, the text of a note or a "
        "photograph "
        "out of the past too. It cannot be taken back.",
        (
            Section(
                "What goes",
                (
                    CommandLine("bevelbook erase person anna --dry-run"),
                    CommandLine("bevelbook erase person anna"),
                    CommandLine("bevelbook erase run 2026-05-03/1 note"),
                    CommandLine("bevelbook erase photo 3f2a1c"),
                    Bullets(
                        (
                            "It says first how much goes and asks. All of it goes or nothing.",
                            "Of a person: every name that the person has or had, in who built, drove and wrote, in "
                            "texts "
                            "as a whole word (Anna's and Annas too, in any case, Joerg and Jorg for Jörg, the first "
                            "or the family name alone), in the past, in rows left out, in kept results, "
                            "in "
                            "what was typed; and the notes about the person. Phones that the person holds are no "
                            "longer "
                            "paired. Runs, builds and weighings stay: they are the team's.",
                            "A word such as 'erased 3547' stands there. It follows from the name, so it is the same on "
                            "every laptop.",
                            "A name that is a word too (May, Art) is listed first, with texts in which it stands. "
                            "With --only-who texts stay as they are. A first or family name that is a word too, or "
                            "that a team mate has, stays in texts where it stands alone, and that is said.",
                            "Of a note: that field in all versions of the record, also of one that was removed. The "
                            "word "
                            "'erased' stands there, and in place of what was typed for it.",
                            "A kept file of notes that holds the name or the text is not kept any more. What was "
                            "read of "
                            "it stays; the file cannot be read again.",
                            "Of a photograph: its picture and its note. It is removed where it still hangs.",
                        )
                    ),
                ),
            ),
            Section(
                "Afterwards",
                (
                    Bullets(
                        (
                            "The file is written again, so that nothing of it is left in free pages. Where another "
                            "program has it open, close that and type 'bevelbook erase'; 'bevelbook check' says so "
                            "too.",
                            "It goes along with every merge, export and weekend: the other laptop takes the same out "
                            "and "
                            "says so. One that still has the text does not bring it back. What goes along are ids, "
                            "never the text; who knows a name can work out its id, as with names from notes.",
                            "A sheet with the name may come in again: it is taken under the word that stands there, "
                            "and "
                            "the sheet itself is not kept. The same where somebody types the name. A new team mate of "
                            "the same name needs another one.",
                        )
                    ),
                ),
            ),
            Section(
                "What it does not reach",
                (
                    Paragraph(
                        "It names what it can know of. Files beside the database and in copies that this computer made "
                        "are looked into: backups, databases, exports, editions, zips, sheets, with what a merge or a "
                        "new version kept. Those that still have it are listed, and those that cannot be read as well: "
                        "remove them yourself. Then come backups on sticks that are not plugged in, the sheets that it "
                        "came from, which are your own files, who else wrote, and the paired phones. Other laptops "
                        "have it until they next meet this one. Exports and editions that were sent on, printed cards, "
                        "chats and pictures on phones nobody sees from here. A disk may keep old bytes of its own."
                    ),
                ),
            ),
        ),
    )
