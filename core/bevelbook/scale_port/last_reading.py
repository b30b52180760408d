"""What a scale said last: the reading, whether it is steady, and a line that was not taken."""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.scale_port.line_cutter import CutLine
from bevelbook.scale_port.scale_lines import LineKind, PrintedLine, noise, read_line

STEADY_S: Final = 1.0
"""A reading without a sign is steady once the same number came again so many seconds after it first came."""
AGAIN_S: Final = 3.0
"""The same reading after so long a silence was printed a second time."""


class PanReading(NamedTuple):
    """A reading: its mass, the same number in g as text, when it came last, and gross, net or nothing."""

    mass_g: float
    digits: str
    is_steady: bool
    weighed_as: str
    came_at: float


class SaidLast(NamedTuple):
    """All that a page shows. ``number`` goes up with everything new; ``line`` is the last line where it was not
    taken, and ``trouble`` says why nothing comes."""

    number: int = 0
    reading: PanReading | None = None
    line: PrintedLine | None = None
    trouble: str = ""


class LastReading:
    """Keeps what a scale said last.

    Many scales print no sign of whether they are steady; some of these print only when they are asked, and then only
    steady readings, but nobody can see that in a line. So such a reading counts as steady once the same number came
    twice, at least a second apart, and no other between: a scale that prints ten lines a second cannot pass for steady
    while oil runs in, and at one that prints when a key is pressed it is pressed twice.
    """

    def __init__(self) -> None:
        self.said = SaidLast()
        self._comma_is_decimal = False
        self._same: tuple[str, str] | None = None
        self._same_since = 0.0

    def take(self, cut: CutLine, at: float) -> None:
        """Take a line that came at that time, in seconds of a clock that only goes forward."""
        line = noise(cut.text, cut.why) if cut.why else read_line(cut.text, comma_is_decimal=self._comma_is_decimal)
        self._comma_is_decimal |= line.proves_comma
        before = self.said
        if line.mass_g is None:
            is_over = line.kind in (LineKind.OVERLOAD, LineKind.UNDERLOAD, LineKind.FAULT)
            if is_over or line.kind is LineKind.UNCLEAR:
                self._same = None
            self._say(before._replace(reading=None if is_over else before.reading, line=line))
            return
        reading = PanReading(line.mass_g, line.digits, self._is_steady(line, at), line.weighed_as, at)
        old = before.reading
        is_again = old is not None and at - old.came_at >= AGAIN_S
        said = before._replace(reading=reading, line=None)
        if is_again:
            self.said = said._replace(number=before.number + 1)
        else:
            self._say(said)

    def trouble(self, words: str) -> None:
        """Nothing comes any more, for a reason; or it does again, with no words. The reading before is none any
        more."""
        if words != self.said.trouble:
            self._same = None
            self._say(self.said._replace(reading=None, line=None, trouble=words))

    def _is_steady(self, line: PrintedLine, at: float) -> bool:
        if line.is_steady is not None:
            self._same = None
            return line.is_steady
        same = (line.digits, line.weighed_as)
        if same != self._same:
            self._same, self._same_since = same, at
        return at - self._same_since >= STEADY_S

    def _say(self, said: SaidLast) -> None:
        """Keep it, with a new number where anything of it is to be seen."""
        is_new = _seen(said) != _seen(self.said)
        self.said = said._replace(number=said.number + 1) if is_new else said


def _seen(said: SaidLast) -> SaidLast:
    """What is to be seen of it: all but the time."""
    return said._replace(reading=said.reading and said.reading._replace(came_at=0.0))
