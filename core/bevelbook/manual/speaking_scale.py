"""A scale that speaks: how it is plugged in, what is read of its lines, and what a cable does not mend."""

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
from bevelbook.scale_port.last_reading import STEADY_S
from bevelbook.scale_port.line_settings import USUAL
from bevelbook.scale_port.sign_words import SIGNS, Sign

CAUTIONS: Final = (
    "A cable does not make a scale more accurate: its own error, its drift and a draught come over it as well. Zero it "
    "before each diff, and weigh a known coin or weight first.",
    "A scale drifts while it warms up: let it stand switched on as its maker says, level, out of wind and sun.",
    "Lay the cable so that it neither pulls at the scale nor lies on the pan, and so that no hand catches in it: a "
    "scale or an open diff that is pulled off the bench is broken, and its oil is on the floor.",
    "Keep oil and cleaner away from plug and laptop. Plug in the mains adapter of a scale where it stays dry, as the "
    "maker of each says.",
    "Look at the display of the scale before you store: a number that came over the cable is checked by nobody else.",
)


def scale_page() -> ManualPage:
    """How a scale speaks to the pages, and with what care."""
    return ManualPage(
        "scale",
        "A scale that speaks",
        "A scale with a serial or USB-serial port prints its readings to the laptop; on a paired phone they appear "
        "beside every field for a mass.",
        (
            Section(
                "Plug it in",
                (
                    CommandLine("bevelbook enter --scale /dev/ttyUSB0"),
                    Paragraph(
                        "It needs pip install 'bevelbook[scale]'. A name of a port that is not there is answered with "
                        "those there are. On Linux the names below /dev/serial/by-id stay the same at every socket. "
                        f"The line is {USUAL} unless --scale-line says otherwise: baud, bits, parity, stop bits, as "
                        "the menu of the scale has them. Set the scale to print all the time, or when it is steady."
                    ),
                    Paragraph(
                        "A scale that prints only when asked is asked with --scale-ask TEXT, once a second while a "
                        r"page waits for it; CR and LF are sent behind the text unless it has signs such as \r or \x05 "
                        "in it. Take only the text that asks for a reading: others may zero the scale or take a tare."
                    ),
                    Paragraph(
                        "Pulled out, the pages say so; plugged in again, it goes on by itself. The scale that is noted "
                        "with a record stays the one that you choose on its form."
                    ),
                ),
            ),
            Section("With care", (Cautions(CAUTIONS),)),
            Section(
                "What is shown and what is taken",
                (
                    Bullets(
                        (
                            "While you pour, the reading is large on the page, quiet while it moves. Once it is steady "
                            "it is in the field; storing it stays a touch. What you typed yourself is left alone. A "
                            "diff that is lifted off leaves the field as it was; more oil empties it.",
                            "Beside every other field for a mass a button takes the reading: Take 12.40 g. The field "
                            "then says from when it is. After ten seconds a reading goes into no field by itself, "
                            "after two minutes into none at all.",
                            "A line is taken only where all of it is understood: one number with a unit of mass, and "
                            "beside it words of the list below, a day, a time, the number of an item. Any other line "
                            "is shown as it came, and why it was not taken.",
                            f"Without a word for steady or not, a reading is steady once the same number came twice, "
                            f"at least {STEADY_S:g} s apart, and no other between: press the key of the scale twice.",
                            "12,345 g may be twelve grams or twelve thousand: it is taken once the scale has shown by "
                            "another number, such as 0,000 g, that its comma is a decimal comma.",
                            "Without parity nothing shows that one digit came as another: compare with the display.",
                        )
                    ),
                ),
            ),
            Section(
                "Words beside the mass",
                (Entries(tuple(ManualEntry(sign.value, f"{_words_for(sign)}.") for sign in Sign)),),
            ),
        ),
    )


def _words_for(sign: Sign) -> str:
    return ", ".join(word for word, of in SIGNS.items() if of is sign)
