"""Files of notes as text: sheets with something wrong with them, other encodings and marks, and any bytes.

Every line has one outcome with a reason that is explained; a file that was stored and comes again adds nothing; what is
only tried adds nothing. The lines are counted here by their ends alone.
"""

from __future__ import annotations

import io
import random
import re
import sqlite3
from functools import cache
from pathlib import Path
from typing import Final

from bevelbook.declare.errors import InputError
from bevelbook.notes.importing import import_notes
from bevelbook.notes.note_columns import MEANINGS, NAMES
from bevelbook.notes.report import REASONS, Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import empty_database
from bevelbook.store.opening import new_database, open_for_writing

MESSY: Final = Path(__file__).parents[1] / "messy"
TODAY: Final = "2026-05-04"
LINE_END: Final = re.compile(rb"\r\n|\r|\n")
ENCODINGS: Final = (
    *("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252", "latin-1", "cp850", "mac_roman"),
    *("shift_jis", "gb18030", "cp037", "utf-7", "koi8-r"),
)
SAID: Final = (
    *ENCODINGS,
    "rot13",
    "zlib_codec",
    "hex",
    "idna",
    "punycode",
    "undefined",
    "no such",
    "",
    "raw_unicode_escape",
)
SPOILERS: Final = (
    *(b'"', b'""', b'"\n', b',"', b'",', b"'", b",", b";", b"\t", b"|", b"\n", b"\r", b"\r\n", b"\x00", b"\x1a", b"="),
    *(b"\xff\xfe", b"\xed\xa0\x80", b"\xff", b"\xc3", b"\xef\xbb\xbf", "\u202e".encode(), "\u2028".encode(), b"\x85"),
    *(b"1e999", b"nan", b"7.000", b"1,5", b"59 F", b"31/12/2024", b"24.02.14", b"sep=;\n", b"total", b"-", b"9" * 400),
)
CELLS: Final = (
    *(
        "",
        "-",
        "a",
        "1.5",
        "1,5",
        "7.000",
        "7k cSt",
        "68 °F",
        "=1+1",
        "#N/A",
        "03/02/2024",
        "2026-05-03",
        "high",
        "\x00",
    ),
    *("12.41 g", "1e-400", "٣٫٥", "\u202ea", "x" * 40, '"', "inf", "9" * 30, "1" * 4301, "14:05", "do.", "30", "calm"),
)


@cache
def samples() -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted(MESSY.glob("*.csv")) if path.stat().st_size < 5_000)


@cache
def nothing() -> sqlite3.Connection:
    """An empty database, which no dry run changes."""
    return empty_database()


def case(source: random.Random, folder: Path) -> str:
    """One file, read; every fiftieth is stored too, and comes again."""
    draw = source.random()
    if draw < 0.5:
        data = spoilt(source, source.choice(samples()))
    elif draw < 0.75:
        data = made(source)
    elif draw < 0.9:
        head = source.choice((b"", b"date,diff,runs,track,result_note\n", b"date;unit;oil mass\n2024-04-06;a;1,35\n"))
        data = head + source.randbytes(source.randrange(300))
    else:
        data = large(source)
    if source.random() < 0.1:
        text = data.decode("utf-8", "replace")
        data = text.encode(source.choice(ENCODINGS), "replace")
    settings = Settings(
        today=TODAY,
        encoding=source.choice(SAID) if source.random() < 0.15 else None,
        decimal=source.choice((None, None, ".", ",")),
        date_order=source.choice((None, None, "dmy", "mdy")),
        delimiter=source.choice((",", ";", "\t", "|")) if source.random() < 0.1 else None,
        transpose=source.random() < 0.03,
        header_line=source.choice((1, 2, 3, 10_000)) if source.random() < 0.05 else None,
    )
    if source.random() < 0.02:
        return stored_case(data, settings, folder)
    report = outcome(data, settings, nothing())
    if report is None:
        return "refused"
    if report.outcome == "accepted" and settings.encoding is None and not settings.transpose:
        check_lines(data, report)
    return report.outcome


def stored_case(data: bytes, settings: Settings, folder: Path) -> str:
    """The same file tried, stored and stored again."""
    path = folder / "team.db"
    new_database(path).close()
    connection = open_for_writing(path)
    try:
        tried = import_notes(io.BytesIO(data), "n.csv", connection, path, settings, dry_run=True)
        assert counted(connection) == 0, "a dry run stored something"
        first = import_notes(io.BytesIO(data), "n.csv", connection, path, settings)
        assert (tried.outcome, tried.accepted, tried.rejected) == (first.outcome, first.accepted, first.rejected), (
            f"tried otherwise than stored: {tried.accepted}, {tried.rejected} and {first.accepted}, {first.rejected}"
        )
        held = counted(connection)
        second = import_notes(io.BytesIO(data), "n.csv", connection, path, settings)
        assert second.added == 0 and counted(connection) == held, f"the same file again adds {second.added}"
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    except InputError:
        return "stored: refused"
    finally:
        connection.close()
    return f"stored: {first.outcome}"


def counted(connection: sqlite3.Connection) -> int:
    """How many builds, runs, weighings and note rows there are."""
    return int(
        connection.execute(
            "SELECT (SELECT count(*) FROM builds) + (SELECT count(*) FROM runs) + (SELECT count(*) FROM weighings) "
            "+ (SELECT count(*) FROM note_files)"
        ).fetchone()[0]
    )


def outcome(data: bytes, settings: Settings, connection: sqlite3.Connection, name: str = "n.csv") -> Report | None:
    """The report, checked for itself; None where the file is refused with an error in words."""
    try:
        report = import_notes(io.BytesIO(data), name, connection, Path(), settings, dry_run=True, want_rows=True)
    except InputError as fault:
        assert fault.what and len(str(fault)) < 3000, f"refused with {len(str(fault))} letters"
        return None
    assert report.read == report.accepted + report.rejected + report.skipped, "a line with no outcome"
    if report.outcome == "rejected":
        assert report.file_reason in REASONS, f"a reason nobody declared: {report.file_reason}"
        assert report.message
        return report
    assert report.rows is not None and len(report.rows) == report.read, "rows and lines differ"
    odd = {row["reason"] for row in report.rows if row["status"] != "accepted"} - set(REASONS)
    assert not odd, f"reasons nobody declared: {odd}"
    assert list(report.lines())
    return report


def check_lines(data: bytes, report: Report) -> None:
    """Each line is a row, the heading, or inside quotes."""
    lines = [int(str(row["line"])) for row in report.rows or []]
    assert len(set(lines)) == len(lines), "a line twice"
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in data[:4096]:
        return
    texts = LINE_END.split(data)
    count = len(texts) - (not texts[-1])
    assert all(1 <= line <= count for line in lines), "a line that there is not"
    if b'"' not in data:
        assert count - len(lines) in (1, 2), f"of {count} lines {len(lines)} have an outcome"


def spoilt(source: random.Random, data: bytes) -> bytes:
    """A sheet with something wrong with it."""
    for _ in range(source.choice((1, 1, 2, 4))):
        start, end = sorted(source.choices(range(len(data) + 1), k=2))
        draw = source.randrange(6)
        if draw == 0:
            data = data[:start] + data[end:]
        elif draw == 1:
            data = data[:end] + data[start:end] + data[end:]
        elif draw == 2:
            lines = LINE_END.split(data)
            source.shuffle(lines)
            data = source.choice((b"\n", b"\r\n", b"\r")).join(lines)
        elif draw == 3 and data:
            turned = bytearray(data)
            turned[source.randrange(len(turned))] ^= 1 << source.randrange(8)
            data = bytes(turned)
        else:
            at = source.randrange(len(data) + 1)
            data = data[:at] + source.choice(SPOILERS) + data[at + source.randrange(2) :]
    return data


def made(source: random.Random) -> bytes:
    """A table of known and unknown headings, in some dialect."""
    words = [*NAMES, *MEANINGS, "track (°F)", "", "x", "date", "diff", "dry mass (oz)", "\u202e", "a" * 300]
    headings = ["date", "diff", *(source.choice(words) for _ in range(source.randrange(8)))]
    mark = source.choice((",", ";", "\t", "|"))
    end = source.choice(("\n", "\r\n", "\r"))
    quote = source.choice(("", "", '"'))
    rows = [headings]
    for _ in range(source.randrange(14)):
        rows.append([source.choice(CELLS) for _ in range(max(0, len(headings) + source.choice((0, 0, 0, -1, 1, 3))))])
    lines = [
        mark.join(f"{quote}{cell.replace(quote, quote * 2) if quote else cell}{quote}" for cell in row) for row in rows
    ]
    return end.join(lines).encode("utf-8", "surrogatepass")


def large(source: random.Random) -> bytes:
    """Something of which there is too much: mostly small, now and then of the size that hurts."""
    size = 1_000_000 if source.random() < 0.01 else source.choice((200, 2_000))
    head = b"date,diff,runs,result_note\n2026-05-03,a,1,x\n"
    draw = source.randrange(8)
    if draw == 0:
        return head + b'2026-05-03,a,1,"' + b"x" * size
    if draw == 1:
        return head + b"2026-05-03,a,1," + b"x" * size + b"\n"
    if draw == 2:
        wide = min(size, 10_000)
        return b"date,diff" + b",x" * wide + b"\n2026-05-03,a" + b",1" * wide + b"\n"
    if draw == 3:
        return head + b"\n" * (size // 50)
    if draw == 4:
        return head + b",,,\n" * (size // 50)
    if draw == 5:
        return head + b'"' * (size // 4)
    if draw == 6:
        return head + b"2026-05-03,a," + b"9" * size + b",\n"
    return b"," * (size // 4) + b"\n" + head
