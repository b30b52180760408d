"""The picture of the code: read back from the half blocks, it is what the library made."""

from __future__ import annotations

import segno

from bevelbook.web.pairing.qr import AS_BEFORE, WHITE_ON_BLACK, drawn

LINK = "http://192.0.2.7:8002/team/-/enter/pair#12345678"
BORDER = 2


def test_the_half_blocks_hold_the_code_with_a_light_edge() -> None:
    """A dark module is the dark ground, a light one is drawn."""
    dark = {" ": (1, 1), "▀": (0, 1), "▄": (1, 0), "█": (0, 0)}
    rows: list[list[int]] = []
    for line in drawn(LINK).splitlines():
        assert line.startswith(WHITE_ON_BLACK)
        assert line.endswith(AS_BEFORE)
        pairs = [dark[sign] for sign in line.removeprefix(WHITE_ON_BLACK).removesuffix(AS_BEFORE)]
        rows += [[pair[0] for pair in pairs], [pair[1] for pair in pairs]]
    code = [list(row) for row in segno.make_qr(LINK, error="l").matrix]
    assert [row[BORDER:-BORDER] for row in rows[BORDER : BORDER + len(code)]] == code
    assert not any(any(row) for row in rows[:BORDER])
    assert not any(any(row[:BORDER]) or any(row[-BORDER:]) for row in rows[: BORDER + len(code)])
