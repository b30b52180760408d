"""Files that something went wrong with: the messy samples cut, doubled, swapped and spoilt, any bytes, and workbooks
with bytes turned over. Whatever comes in has an outcome for every line. Seeds are fixed; all data are constructed.
"""

from __future__ import annotations

import io
import random
import re
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import REASONS, Report
from bevelbook.notes.settings import Settings

MESSY: Final = Path(__file__).parents[1] / "messy"
SETTINGS: Final = Settings(today="2026-05-04")
LINE_END: Final = re.compile(rb"\r\n|\r|\n")
SPOILERS: Final = (
    *(b'"', b'""', b'\\"', b' "', "“".encode(), b",", b";", b"\t", b"|", b"\n", b"\r", b"\r\n", b"\x00", b"\x1a", b"="),
    *(b"\xed\xa0\x80", b"\xff", b"\xc3", b"\xef\xbb\xbf", "\u200f".encode(), "\u2028".encode(), "\ue000".encode()),
    *(b"\x85", b"\x0b", "７".encode(), "°".encode(), b"59 F", b"31/12/2024", b"24.02.14", b"7.000", b"total"),
)


def cut(data: bytes, drawn: random.Random) -> bytes:
    start, end = sorted(drawn.choices(range(len(data) + 1), k=2))
    return data[:start] + data[end:] if drawn.random() < 0.5 else data[:end]


def doubled(data: bytes, drawn: random.Random) -> bytes:
    start, end = sorted(drawn.choices(range(len(data) + 1), k=2))
    return data[:end] + data[start:end] + data[end:]


def swapped(data: bytes, drawn: random.Random) -> bytes:
    lines = LINE_END.split(data)
    first, second = drawn.choices(range(len(lines)), k=2)
    lines[first], lines[second] = lines[second], lines[first]
    return b"\n".join(lines)


def spoilt(data: bytes, drawn: random.Random) -> bytes:
    for _ in range(drawn.randint(1, 4)):
        place = drawn.randint(0, len(data))
        data = data[:place] + drawn.choice(SPOILERS) + data[place + drawn.randint(0, 1) :]
    return data


def turned(data: bytes, drawn: random.Random) -> bytes:
    found = bytearray(data)
    for _ in range(drawn.randint(1, 4)):
        if found:
            found[drawn.randrange(len(found))] ^= 1 << drawn.randrange(8)
    return bytes(found)


MUTATIONS: Final[tuple[Callable[[bytes, random.Random], bytes], ...]] = (cut, doubled, swapped, spoilt, spoilt, turned)


def mutated(seed: int, count: int) -> Iterator[tuple[str, bytes]]:
    drawn = random.Random(seed)
    samples = [path for path in sorted(MESSY.glob("*.csv")) if path.stat().st_size < 5_000]
    for number in range(count):
        path = drawn.choice(samples)
        data = path.read_bytes()
        for _ in range(drawn.randint(1, 2)):
            data = drawn.choice(MUTATIONS)(data, drawn)
        yield f"{number}-{path.name}", data


def outcome(
    database: sqlite3.Connection, path: Path, name: str, data: bytes, *, dry_run: bool = False
) -> Report | None:
    """The report, checked for itself; None where the file is refused with an error in words."""
    try:
        report = import_notes(io.BytesIO(data), name, database, path, SETTINGS, dry_run=dry_run, want_rows=True)
    except InputError as fault:
        assert fault.what, (name, data)
        return None
    assert report.read == report.accepted + report.rejected + report.skipped, (name, data)
    if report.outcome == "rejected":
        assert report.file_reason in REASONS, (name, data)
        assert report.message
        return report
    assert report.rows is not None
    assert len(report.rows) == report.read, (name, data)
    assert all(row["reason"] in REASONS for row in report.rows if row["status"] != "accepted"), (name, data)
    assert list(report.lines())
    return report


def check_lines(name: str, data: bytes, report: Report) -> None:
    """Every physical line is a row, the heading, or inside quotes: counted here without any reader of ours."""
    lines = [int(str(row["line"])) for row in report.rows or []]
    assert len(set(lines)) == len(lines), (name, data)
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in data[:4096]:
        return
    texts = LINE_END.split(data)
    count = len(texts) - (not texts[-1])
    assert all(1 <= line <= count for line in lines), (name, data)
    if b'"' not in data:
        assert count - len(lines) in (1, 2), (name, data)


def test_mutated_files_have_an_outcome_for_every_line(path: Path, database: sqlite3.Connection) -> None:
    """Every fifth is written too. More by hand: ``python -m trials.run csv``."""
    outcomes = {"accepted": 0, "rejected": 0}
    for number, (name, data) in enumerate(mutated(seed=15, count=150)):
        report = outcome(database, path, name, data, dry_run=number % 5 > 0)
        if report is not None:
            outcomes[report.outcome] += 1
            if report.outcome == "accepted":
                check_lines(name, data, report)
    assert outcomes["accepted"] > 50, "most are still tables"
    assert outcomes["rejected"] > 10


def test_any_bytes_below_a_heading_have_an_outcome_for_every_line(path: Path, database: sqlite3.Connection) -> None:
    drawn = random.Random(16)
    for number in range(60):
        pieces = [drawn.choice((drawn.randbytes(drawn.randint(0, 40)), drawn.choice(SPOILERS))) for _ in range(8)]
        heading = drawn.choice((b"", b"date,diff,track temp,result_note\n", b"date;unit;oil mass\n2024-04-06;a;1,35\n"))
        data = heading + b"".join(pieces)
        report = outcome(database, path, f"{number}.csv", data)
        if report is not None and report.outcome == "accepted":
            check_lines(f"{number}.csv", data, report)


def test_workbooks_with_bytes_turned_over_are_read_or_refused(path: Path, database: sqlite3.Connection) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (["date", "diff", "oil mass (g)", "track temp"], ["2024-04-06", "K-01", 1.35, 24], ["x", "", "=A1", 7]):
        sheet.append(row)
    file = io.BytesIO()
    book.save(file)
    whole = file.getvalue()
    drawn = random.Random(17)
    for number in range(60):
        data = drawn.choice((turned, turned, cut, spoilt))(whole, drawn)
        outcome(database, path, f"{number}.xlsx", data)
