"""The picture of the code: read back from the half blocks, it is what the library made, and a reader reads it."""

from __future__ import annotations

import numpy as np
import pytest
import segno
import zxingcpp

from bevelbook.web.pairing.qr import AS_BEFORE, WHITE_ON_BLACK, drawn

LINK = "http://192.0.2.7:8002/team/-/enter/pair#12345678"
BORDER = 2


SHELF = "http://team.local:8001/"
DARK = {" ": (1, 1), "▀": (0, 1), "▄": (1, 0), "█": (0, 0)}
"""A dark module is the dark ground, a light one is drawn."""
PIXELS = 4
"""Of a module in the picture of the terminal."""


def modules_of(drawing: str) -> list[list[int]]:
    """The modules of a code on the terminal, with its light edge; 1 for a dark one."""
    rows: list[list[int]] = []
    for line in drawing.splitlines():
        assert line.startswith(WHITE_ON_BLACK)
        assert line.endswith(AS_BEFORE)
        pairs = [DARK[sign] for sign in line.removeprefix(WHITE_ON_BLACK).removesuffix(AS_BEFORE)]
        rows += [[pair[0] for pair in pairs], [pair[1] for pair in pairs]]
    return rows


def test_the_half_blocks_hold_the_code_with_a_light_edge() -> None:
    rows = modules_of(drawn(LINK))
    code = [list(row) for row in segno.make_qr(LINK, error="l").matrix]
    assert [row[BORDER:-BORDER] for row in rows[BORDER : BORDER + len(code)]] == code
    assert not any(any(row) for row in rows[:BORDER])
    assert not any(any(row[:BORDER]) or any(row[-BORDER:]) for row in rows[: BORDER + len(code)])


@pytest.mark.parametrize("address", [LINK, SHELF, "http://192.0.2.7:8001/our+team/-/enter/pair#12345678"])
def test_a_phone_reads_the_address_off_the_terminal(address: str) -> None:
    """The terminal shows nothing but the code: around its light edge everything is dark."""
    rows = np.pad(np.array(modules_of(drawn(address)), dtype=np.uint8), 3, constant_values=1)
    picture = np.kron(255 * (1 - rows), np.ones((PIXELS, PIXELS), dtype=np.uint8)).astype(np.uint8)
    read = zxingcpp.read_barcodes(picture)
    assert [(str(one.format), one.text) for one in read] == [("QR Code", address)]
