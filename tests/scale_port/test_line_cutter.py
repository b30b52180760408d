"""Bytes cut into lines: ends of every kind, and no line of which a part may be lost."""

from __future__ import annotations

import random

import pytest

from bevelbook.scale_port.line_cutter import CONTROL, GAP_S, HALF, LONGEST, PARITY, CutLine, LineCutter, text_of
from bevelbook.scale_port.scale_lines import read_line

LATER = 1.0


def cut(*pieces: bytes, apart_s: float = 0.001, first_at: float = LATER) -> list[CutLine]:
    """The lines of what came in pieces, so far apart, the first of them that long after the port was opened."""
    cutter = LineCutter(0.0)
    found: list[CutLine] = []
    at = first_at
    for piece in pieces:
        found += cutter.feed(piece, at)
        at += apart_s
    return found


@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n", b"\n\r", b"\r\r\n", b"\x03"], ids=repr)
@pytest.mark.parametrize("start", [b"", b"\x02"], ids=repr)
def test_a_line_ends_with_any_sign_for_it(start: bytes, end: bytes) -> None:
    assert cut(start + b" 62.35 g" + end) == [CutLine("62.35 g")]


def test_a_line_comes_in_pieces() -> None:
    assert cut(b" 62", b".35", b" g", b"\r", b"\n6", b"2.36 g\r\n") == [CutLine("62.35 g"), CutLine("62.36 g")]


def test_what_comes_at_once_after_the_port_was_opened_may_be_the_end_of_a_line() -> None:
    assert cut(b"2.35 g\r\n62.35 g\r\n", first_at=0.01) == [CutLine("2.35 g", HALF), CutLine("62.35 g")]
    assert cut(b"2.35 g\r\n", first_at=0.3) == [CutLine("2.35 g")]


def test_a_line_that_stops_in_the_middle_is_a_half_one_and_so_is_its_rest() -> None:
    found = cut(b"\r\n62.", b"35 g\r\n62.35 g\r\n", apart_s=GAP_S + 0.1)
    assert found == [CutLine("62.", HALF), CutLine("35 g", HALF), CutLine("62.35 g")]
    cutter = LineCutter(0.0)
    assert list(cutter.feed(b"62.", LATER)) == []
    assert list(cutter.pause(LATER + 0.2)) == []
    assert list(cutter.pause(LATER + GAP_S + 0.1)) == [CutLine("62.", HALF)]


def test_a_check_byte_behind_the_end_is_no_text() -> None:
    lines = b"\x0262.35 g\x035\x0262.36 g\x037"
    assert cut(lines) == [CutLine("62.35 g"), CutLine("62.36 g")]
    assert cut(b"62.35 g\x03", b"62.36 g\x03", apart_s=0.3) == [CutLine("62.35 g"), CutLine("62.36 g")]
    assert cut(b"62.35 g\x03562.36 g\x03") == [CutLine("62.35 g"), CutLine("562.36 g", HALF)]


def test_a_line_that_is_begun_anew_before_its_end_is_a_half_one() -> None:
    assert cut(b"\x0262.3\x0262.35 g\x03") == [CutLine("62.3", HALF), CutLine("62.35 g")]


def test_noise_without_an_end_is_given_up() -> None:
    found = cut(b"\r\n" + b"x" * (LONGEST + 1), b"62.35 g\r\n62.36 g\r\n")
    assert [one.why for one in found] == [PARITY, HALF, ""]


def with_parity(text: str, is_odd: int) -> bytes:
    """A text as a port with seven bits and parity sends it."""
    return bytes(one | 0x80 * ((one.bit_count() + is_odd) % 2) for one in text.encode("ascii"))


@pytest.mark.parametrize("is_odd", [0, 1], ids=["even", "odd"])
def test_the_bit_of_parity_is_taken_off(is_odd: int) -> None:
    assert cut(with_parity("S   62.35 g\r\nS   62.36 g\r\n", is_odd)) == [
        CutLine("S   62.35 g"),
        CutLine("S   62.36 g"),
    ]
    assert text_of(bytes(one | 0x80 for one in b"62.35 g")) == CutLine("62.35 g")


def test_with_parity_no_single_wrong_bit_makes_another_number() -> None:
    sent = with_parity("\r\nST,GS,+00062.35  g\r\n", 0)
    for place in range(2, len(sent) - 2):
        for bit in range(8):
            wrong = bytearray(sent)
            wrong[place] ^= 1 << bit
            masses = {read_line(one.text).mass_g for one in cut(bytes(wrong)) if not one.why}
            assert masses <= {None, 62.35}, (place, bit)


def test_control_characters_at_the_edges_are_taken_off_and_others_shown() -> None:
    assert cut(b"\x00\x11 62.35 g\x0c\r\n6\x002.35 g\r\n") == [CutLine("62.35 g"), CutLine("6\x002.35 g", CONTROL)]
    assert text_of("62.35 µg".encode()).why == PARITY


@pytest.mark.parametrize("seed", range(40))
def test_no_bytes_raise_and_a_piece_of_a_line_is_never_a_reading(seed: int) -> None:
    """Lines of one mass, joined at random in the middle of what is sent, with noise before."""
    chance = random.Random(seed)
    sent = b"".join(chance.choice([b"S   62.35 g\r\n", b"62.35 g\n", b"\x0262.35 g\x03"]) for _ in range(8))
    cutter, at, taken = LineCutter(0.0), 0.0, set()
    data = chance.randbytes(chance.randint(0, 30)) + b"\r\n" + sent
    start = chance.randrange(len(data))
    while start < len(data):
        end = start + chance.randint(1, 9)
        at += chance.choice((0.001, 0.001, 0.7)) if at else 0.01
        taken |= {read_line(one.text).mass_g for one in cutter.feed(data[start:end], at) if not one.why}
        start = end
    assert taken <= {None, 62.35}
