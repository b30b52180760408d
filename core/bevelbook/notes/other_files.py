"""Files that are not a table of text or a workbook: named for what they are, with the way out."""

from __future__ import annotations

import lzma
import re
import struct
import zipfile
import zlib
from typing import BinaryIO, Final

from bevelbook.notes.decoding import FileRejected, rejected

_HEAD: Final = 4096
_SEARCHED: Final = 1 << 20
_AS_CSV: Final = "Open it in a spreadsheet, and save the sheet of notes as .xlsx or CSV."
_TYPED: Final = "Type or copy the table into a spreadsheet, and save that as .xlsx or CSV."
_UNREADABLE: Final = (
    *(zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error),
    *(OSError, EOFError, RuntimeError, ValueError, KeyError),
)
"""What reading a spoilt or locked archive raises."""
_AGAIN: Final = "Save the sheet again, or as CSV, or ask for it to be sent again."
_UNPACK: Final = "Unpack it, and import the files in it one by one."
_COMPOUND: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""The signature of a compound file (MS-CFB, 2.2)."""
_SIGNATURES: Final[tuple[tuple[bytes, str, str], ...]] = (
    (b"%PDF-", "a PDF document", _TYPED),
    (b"\x89PNG\r\n\x1a\n", "an image", _TYPED),
    (b"\xff\xd8\xff", "an image", _TYPED),
    (b"GIF8", "an image", _TYPED),
    (b"II*\0", "an image", _TYPED),
    (b"MM\0*", "an image", _TYPED),
    (b"\x1f\x8b", "a packed file (gzip)", _UNPACK),
    (b"BZh", "a packed file (bzip2)", _UNPACK),
    (b"\xfd7zXZ\0", "a packed file (xz)", _UNPACK),
    (b"7z\xbc\xaf'\x1c", "a packed file (7z)", _UNPACK),
    (b"Rar!\x1a\x07", "a packed file (rar)", _UNPACK),
    (b"{\\rtf", "a text document (RTF)", _AS_CSV),
    (b"SQLite format 3\0", "a database (SQLite)", "Export the table of notes as CSV."),
)
"""How files of a kind begin, what they are, and the way out."""
_WEB_PAGE: Final = re.compile(
    rb"\s*+(?:<!--(?:(?!-->).)*+-->\s*+)*+<(?:!doctype\s+html|html|head|meta|body|style|table|div)\b", re.I
)
_WEB_ARCHIVE: Final = re.compile(rb"mime-version:|from:\s*<saved by", re.I)
OPEN_DOCUMENT: Final = b"application/vnd.oasis.opendocument.spreadsheet"


def refuse_other_file(file: BinaryIO) -> None:
    """Raise FileRejected (not_a_table) for a file that is known to be something else than delimited text."""
    file.seek(0)
    head = file.read(_HEAD)
    if head.startswith(_COMPOUND):
        raise _compound(head + file.read(_SEARCHED))
    for signature, what, remedy in _SIGNATURES:
        if head.startswith(signature):
            raise _not_a_table(what, remedy)
    if head[4:8] == b"ftyp" or (head.startswith(b"RIFF") and head[8:12] == b"WEBP"):
        raise _not_a_table("an image or a film", _TYPED)
    text = head.removeprefix(b"\xef\xbb\xbf")
    if text.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = text[2:].replace(b"\0", b"")
    if text.lstrip().startswith(b"<?xml"):
        if b"urn:schemas-microsoft-com:office:spreadsheet" in text:
            raise _not_a_table("an XML spreadsheet of 2003", _AS_CSV)
        if b"opendocument" in text:
            raise _not_a_table("a flat OpenDocument file", _AS_CSV)
        if b"<html" in text.lower():
            raise _not_a_table("a web page", _AS_CSV)
        raise _not_a_table("an XML file", _AS_CSV)
    if _WEB_PAGE.match(text) or _WEB_ARCHIVE.match(text):
        raise _not_a_table("a web page", _AS_CSV)


def refuse_other_archive(file: BinaryIO) -> None:
    """Raise FileRejected (not_a_table) for an archive that is known to be something else than a workbook."""
    if is_open_document(file):
        return
    try:
        with zipfile.ZipFile(file) as archive:
            names = archive.namelist()
    except _UNREADABLE:
        return
    if "xl/workbook.bin" in names:
        raise _not_a_table("a binary workbook (.xlsb)", _AS_CSV)
    if "word/document.xml" in names or "ppt/presentation.xml" in names:
        raise _not_a_table("a document or slides, not a workbook", _AS_CSV)
    if any(name.startswith("Index/") or name == "Index.zip" for name in names):
        raise _not_a_table("a sheet of another program (.numbers)", "Export it from that program as .xlsx or CSV.")
    if "mimetype" in names and "content.xml" in names:
        raise _not_a_table("an OpenDocument file, but not a sheet", _AS_CSV)
    if "[Content_Types].xml" not in names:
        inside = ", ".join(name for name in names[:3] if not name.endswith("/"))
        if not names:
            raise _not_a_table("an empty archive (zip), with no sheet in it", _AGAIN)
        raise _not_a_table("an archive (zip)", _UNPACK, found=inside or None)


def is_open_document(file: BinaryIO) -> bool:
    """Whether an archive is an OpenDocument sheet (ISO/IEC 26300-3, 3.3: its kind is its first file)."""
    try:
        with zipfile.ZipFile(file) as archive:
            return "mimetype" in archive.namelist() and archive.read("mimetype").strip().startswith(OPEN_DOCUMENT)
    except _UNREADABLE:
        return False


def _compound(content: bytes) -> FileRejected:
    if "EncryptedPackage".encode("utf-16-le") in content:
        return _not_a_table("a workbook that is locked with a password", "Save it without a password.")
    if "WordDocument".encode("utf-16-le") in content:
        return _not_a_table("an old text document (.doc)", _AS_CSV)
    return _not_a_table("an old binary workbook (.xls)", _AS_CSV)


def _not_a_table(what: str, remedy: str, *, found: str | None = None) -> FileRejected:
    return rejected("not_a_table", f"the file is {what}", found=found, remedy=remedy)
