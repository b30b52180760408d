"""Numbers that nobody measured: what is left over of binary fractions, in the words of a page or of a terminal."""

import re

NOISE = re.compile(
    r"(?<![\w.#/-])[-+]?\d+(?:\.\d+)?e[+-]\d+"  # an e
    r"|(?<![\w.])(?!0\.000)\d[\d,]*\.\d{6,}"  # more decimals than anything is measured to
    r"|(?<![\w.,)\]/-])[-−]0(?:\.0+)?(?![\d.,]*\d)"  # a minus before a zero
)
