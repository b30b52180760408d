"""A file as it may come over a bad line or from bad hands: bits turned, bytes overwritten, pieces moved, cut."""

from __future__ import annotations

from random import Random
from typing import Final

_PAGE: Final = 4096


def flipped(whole: bytes, draw: Random) -> bytes:
    """One of these, drawn; the first kilobytes, where a database describes itself, are hit more often."""
    held = bytearray(whole)
    last = len(held) if draw.random() < 0.7 else min(len(held), 9_000)
    way = draw.randrange(5 if len(held) > _PAGE else 3)
    if way == 0:
        del held[draw.randrange(len(held)) :]
    elif way == 1:
        for _ in range(draw.choice((1, 1, 2, 10, 100))):
            held[draw.randrange(last)] ^= 1 << draw.randrange(8)
    elif way == 2:
        at = draw.randrange(last)
        held[at : at + 4] = draw.choice((b"\0\0\0\0", b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", draw.randbytes(4)))
    elif way == 3:
        one, other = (_PAGE * draw.randrange(len(held) // _PAGE) for _ in range(2))
        held[one : one + _PAGE], held[other : other + _PAGE] = held[other : other + _PAGE], held[one : one + _PAGE]
    else:
        at, length = draw.randrange(last), draw.choice((1, 16, 600))
        held[at : at + length] = draw.randbytes(len(held[at : at + length]))
    return bytes(held)
