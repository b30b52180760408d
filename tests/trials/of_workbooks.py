"""Workbooks (.xlsx, .ods) with bytes turned over, with XML that no program writes, and zips that lie about themselves.

Each is read with an outcome for every row, or refused in words, in little time.
"""

from __future__ import annotations

import io
import random
import re
import struct
import zipfile
from datetime import date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from typing import Final

from trials.of_csv import nothing, outcome

from bevelbook.notes.settings import Settings

SETTINGS: Final = Settings(today="2026-05-04")
NAMESPACES: Final = (
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"'
)
MANIFEST: Final = (
    '<?xml version="1.0"?><manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
    '<manifest:file-entry manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>'
    "</manifest:manifest>"
)
VALUES: Final = (
    *("0", "-1", "1", "1e999", "nan", "", "x", "99999999999999999999", "1.5", "2958466", "-2958466", "1" * 5000, "NaN"),
    *(
        "A1",
        "XFD1048576",
        "A0",
        "ZZZZ1",
        "1:1",
        "true",
        "s",
        "b",
        "e",
        "d",
        "n",
        "str",
        "inlineStr",
        "&#0;",
        "&#xD800;",
    ),
    *("&lol;", "#REF!", "=A1", "2026-05-03", "2026-99-99T99:99", "../../etc/passwd", "/xl/workbook.xml", "\u202e", "é"),
)
PIECES: Final = (
    b"<row/>",
    b'<row r="3"/>',
    b'<row r="1048576"><c r="A1048576"><v>1</v></c></row>',
    b'<row r="0"/>',
    b'<row r="x"/>',
    b"<c/>",
    b'<c r="B2" t="s"><v>99999</v></c>',
    b'<c r="C3" t="d"><v>2026-05-03</v></c>',
    b'<c r="D3" t="b"><v>7</v></c>',
    b'<c r="D3" t="e"><v>#DIV/0!</v></c>',
    b'<c r="D3" s="9999"><v>1</v></c>',
    b"<f>A1</f>",
    b'<f t="shared" si="0"/>',
    b'<f t="array" ref="A1:XFD1048576">A1</f>',
    b"<v/>",
    b"<is><r><t>x</t></r></is>",
    b"<si><si><si/></si></si>",
    b"<!-- x -->",
    b"<![CDATA[<row/>]]>",
    b"<?x y?>",
    b'<!DOCTYPE x [<!ENTITY lol "lol">]>',
    b'<table:table-row table:number-rows-repeated="1048576"/>',
    b'<table:table-cell table:number-columns-repeated="16384"/>',
    b'<mergeCell ref="A1:XFD1048576"/>',
    b'<col min="1" max="16384" hidden="1"/>',
    b'<sheet name="x" sheetId="9" r:id="rId1"/>',
)


@cache
def xlsx() -> bytes:
    """A workbook with cells of every kind, two sheets, a comment and a style."""
    import openpyxl
    from openpyxl.comments import Comment
    from openpyxl.styles import Font

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["date", "diff", "oil mass (g)", "track temp", "runs", "result_note"])
    sheet.append([date(2024, 4, 6), "K-01", 1.35, 24, 3, "felt planted"])
    sheet.append([datetime(2024, 4, 7, 14, 5), 7, "=1+1", True, time(3, 5), timedelta(hours=30)])
    sheet.append(["x", None, "#N/A", -1e300, 0.1, None])
    sheet["C2"].number_format = '0.00 "g"'
    sheet["B2"].font = Font(strike=True)
    sheet["B2"].comment = Comment("which one?", "ana")
    sheet.row_dimensions[4].hidden = True
    other = book.create_sheet("other")
    other.append(["date", "diff"])
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


@cache
def ods() -> bytes:
    """The least that is an OpenDocument sheet."""
    cells = ["date", "diff", "oil mass (g)"], ["2024-04-06", "K-01", "1,35"]
    rows = "".join(
        "<table:table-row>"
        + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>' for cell in row
        )
        + '<table:table-cell office:value-type="float" office:value="24"/>'
        + "</table:table-row>"
        for row in cells
    )
    content = (
        f'<?xml version="1.0"?><office:document-content {NAMESPACES}><office:body><office:spreadsheet>'
        f'<table:table table:name="S">{rows}</table:table></office:spreadsheet></office:body></office:document-content>'
    )
    return packed(
        {
            "mimetype": b"application/vnd.oasis.opendocument.spreadsheet",
            "META-INF/manifest.xml": MANIFEST.encode(),
            "content.xml": content.encode(),
        }
    )


@cache
def parts(whole: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(found: dict[str, bytes]) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in found.items():
            archive.writestr(name, data)
    return held.getvalue()


def case(source: random.Random, folder: Path) -> str:
    """One workbook, read."""
    is_xlsx = source.random() < 0.8
    whole = xlsx() if is_xlsx else ods()
    draw = source.random()
    if draw < 0.3:
        kind, data = "raw", turned(source, whole)
    elif draw < 0.45:
        kind, data = "zip", lying(source, whole)
    else:
        kind, data = "xml", packed(odd_parts(source, parts(whole)))
    settings = SETTINGS._replace(sheet=source.choice((None, None, None, "other", "no such")))
    report = outcome(data, settings, nothing(), "n.xlsx" if is_xlsx else "n.ods")
    return f"{kind} refused" if report is None else f"{kind} {report.outcome}"


def turned(source: random.Random, data: bytes) -> bytes:
    """Bytes turned over, cut out, doubled or cut off, anywhere."""
    found = bytearray(data)
    for _ in range(source.choice((1, 1, 2, 5))):
        if not found:
            break
        at = source.randrange(len(found))
        draw = source.randrange(6)
        if draw < 3:
            found[at] ^= 1 << source.randrange(8)
        elif draw == 3:
            found[at : at + 4] = source.choice((b"\xff\xff\xff\xff", b"\0\0\0\0", b"\xff\xff\xff\x7f", b"PK\x03\x04"))
        elif draw == 4:
            del found[at : at + source.randrange(1, 200)]
        else:
            found = found[: max(at, 40)]
    return bytes(found)


def lying(source: random.Random, data: bytes) -> bytes:
    """A zip whose heads say other sizes, places, names, methods or counts than there are."""
    found = bytearray(data)
    heads = [one.start() for one in re.finditer(rb"PK\x01\x02", data)]
    for _ in range(source.choice((1, 2, 3))):
        at = source.choice(heads)
        field = source.choice(
            ((4, "<H"), (6, "<H"), (8, "<H"), (10, "<H"), (16, "<I"), (20, "<I"), (24, "<I"), (28, "<H"))
        )
        if source.random() < 0.3:
            field = (42, "<I")
        limit = 65_535 if field[1] == "<H" else 2**32 - 1
        value = source.choice((0, 1, 8, 9, 12, 14, 99, limit, limit // 2, source.randrange(limit), *heads[:2]))
        found[at + field[0] : at + field[0] + struct.calcsize(field[1])] = struct.pack(field[1], min(value, limit))
    if source.random() < 0.2:
        end = data.rfind(b"PK\x05\x06")
        found[end + 8 : end + 12] = struct.pack("<HH", *(source.choice((0, 1, 65_535)),) * 2)
    return bytes(found)


def odd_parts(source: random.Random, whole: dict[str, bytes]) -> dict[str, bytes]:
    """The parts with the XML of some changed, taken out, doubled or called something else."""
    found = dict(whole)
    for _ in range(source.choice((1, 1, 2, 3))):
        name = source.choice(tuple(found))
        draw = source.randrange(12)
        if draw == 0 and len(found) > 1:
            del found[name]
        elif draw == 1:
            found[source.choice(("../../evil.xml", "/abs.xml", "xl\\odd.xml", "x" * 300, "xl/media/a.bmp"))] = found[
                name
            ]
        elif draw == 2:
            found[name] = found[source.choice(tuple(found))]
        else:
            found[name] = odd_xml(source, found[name])
    return found


def odd_xml(source: random.Random, text: bytes) -> bytes:
    """XML with an attribute, a text, an element or a mark changed."""
    for _ in range(source.choice((1, 1, 2, 6))):
        draw = source.randrange(7)
        if draw < 3:
            places = list(re.finditer(rb'="([^"]*)"|>([^<>]+)<', text))
            if places:
                one = source.choice(places)
                start, end = one.span(1) if one.group(1) is not None else one.span(2)
                text = text[:start] + source.choice(VALUES).encode("utf-8") + text[end:]
        elif draw == 3:
            tags = [one.start() for one in re.finditer(rb"<", text)]
            if tags:
                at = source.choice(tags)
                text = text[:at] + source.choice(PIECES) * source.choice((1, 1, 2, 50)) + text[at:]
        elif draw == 4:
            tags = [one.span() for one in re.finditer(rb"<[^<>]*>", text)]
            if tags:
                start, end = source.choice(tags)
                text = text[:start] + text[end:] if source.random() < 0.5 else text[:end] + text[start:end] + text[end:]
        elif draw == 5:
            text = turned(source, text) if text else text
        else:
            start, end = sorted(source.choices(range(len(text) + 1), k=2))
            text = text[:end] + text[start:end] + text[end:]
    return text
