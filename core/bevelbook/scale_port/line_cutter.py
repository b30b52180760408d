"""Bytes of a port cut into lines, and each line into text; a line of which a part may be lost is marked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

ENDS: Final = frozenset(b"\r\n\x03\x8d\x8a\x83")
"""CR, LF and ETX, also with the bit of parity that a port without parity leaves in them."""
ETX: Final = frozenset(b"\x03\x83")
STARTS: Final = frozenset(b"\x02\x82")
"""STX, the same."""
OPENING_S: Final = 0.25
"""What comes sooner after a port is opened may be the end of a line: at 1,200 baud a byte comes every 9 ms."""
GAP_S: Final = 0.5
"""A line that stops for longer is a half one."""
CHECK_S: Final = 0.1
"""What comes sooner after ETX may be its check byte: then only STX, CR or LF begins a line."""
MOST_CHECK: Final = 2
"""Check bytes at most."""
LONGEST: Final = 200
"""Bytes of a line at most; more without an end are noise."""
HALF: Final = "half a line"
CONTROL: Final = "a control character in the middle of it"
PARITY: Final = "bytes that cannot be letters; the setting of the line may be wrong"
_EDGES: Final = "".join(map(chr, range(0x21))) + "\x7f"


class CutLine(NamedTuple):
    """A line as text. ``why`` says why it cannot be read, and is empty for a whole and clear one."""

    text: str
    why: str = ""


class LineCutter:
    """Cuts what comes in; ``opened_at`` and every ``at`` are seconds of one clock that only goes forward."""

    def __init__(self, opened_at: float) -> None:
        self._begun = bytearray()
        self._last_at = opened_at
        self._wait_s = OPENING_S
        self._is_cut = True
        """Whether the beginning of what comes next may be lost, unless it comes after a silence of ``_wait_s``."""
        self._is_after_etx = False

    def feed(self, data: bytes, at: float) -> Iterator[CutLine]:
        """The lines that end in these bytes, which came at that time."""
        if data:
            yield from self.pause(at)
            if self._is_cut and not self._begun and self._wait_s and at - self._last_at >= self._wait_s:
                self._start()
            self._last_at = at
        for byte in data:
            if byte in ENDS:
                yield from self._end(HALF if self._is_cut else "")
                self._start()
                if byte in ETX:
                    self._is_cut, self._is_after_etx, self._wait_s = True, True, CHECK_S
            elif byte in STARTS:
                yield from self._end(HALF)
                self._start()
            else:
                self._begun.append(byte)
                if self._is_after_etx:
                    self._wait_s = 0.0
                if len(self._begun) > LONGEST:
                    yield from self._end(PARITY)
                    self._is_cut, self._wait_s = True, 0.0

    def pause(self, at: float) -> Iterator[CutLine]:
        """The half line that was left without its end, where there is one by now."""
        silent_s = at - self._last_at
        if self._begun and silent_s > GAP_S:
            yield from self._end(HALF)
            self._is_cut, self._wait_s = True, 0.0

    def _start(self) -> None:
        self._begun.clear()
        self._is_cut = self._is_after_etx = False

    def _end(self, why: str) -> Iterator[CutLine]:
        raw = bytes(self._begun)
        self._begun.clear()
        if not raw or (self._is_after_etx and len(raw) <= MOST_CHECK):
            return
        line = text_of(raw)
        if line.text:
            yield line._replace(why=why or line.why)


def text_of(raw: bytes) -> CutLine:
    """The text of a line's bytes, without the bit of parity where all of them have the same, even or odd or set."""
    if any(byte > 0x7F for byte in raw):
        is_even = {byte.bit_count() % 2 for byte in raw}
        if len(is_even) > 1 and min(raw) <= 0x7F:
            return CutLine(raw.decode("latin-1").strip(_EDGES), PARITY)
        raw = bytes(byte & 0x7F for byte in raw)
    text = raw.decode("ascii").strip(_EDGES)
    is_clear = all(one.isprintable() or one == "\t" for one in text)
    return CutLine(text, "" if is_clear else CONTROL)
