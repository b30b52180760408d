"""Bytes to text: the encoding of a file, and whether all of it fits.

Proof first (a byte order mark, a pattern of zero bytes, valid UTF-8), then cp1252 with a warning. A file that holds
both valid multi-byte UTF-8 and stray single bytes is refused: whole lines would silently be read wrong.
"""

from __future__ import annotations

import codecs
import hashlib
import io
import re
import zlib
from typing import BinaryIO, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.notes.questions import FileQuestion
from bevelbook.notes.wording import with_option
from bevelbook.reading.options import ReadingOption

CHUNK: Final = 1 << 20
LONGEST_LINE: Final = 2_000_000
"""Characters of a line: a hundred times those of the longest row of a sheet of notes that we know."""
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_MULTI_BYTE: Final = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")


class Decoding(NamedTuple):
    """How to read a file: its encoding, a warning if that was not proven, and hash and size of its bytes."""

    encoding: str
    warning: str | None
    sha256: str
    byte_count: int
    packed: bytes | None


class FileRejected(InputError):
    """A structural fault: the whole file is rejected and nothing is stored. ``code`` is the file's reason.

    ``questions`` are what a person may answer so that it can be imported after all, ``language`` that of a profile that
    knows its headings.
    """

    questions: tuple[FileQuestion, ...] = ()
    language: str = ""


def rejected(
    code: str,
    what: str,
    *,
    line: int | None = None,
    found: str | None = None,
    remedy: str,
    questions: tuple[FileQuestion, ...] = (),
) -> FileRejected:
    fault = FileRejected(what, code=code, place=Place(line=line), found=found, remedy=remedy)
    fault.questions = questions
    return fault


def decoding_of(file: BinaryIO, encoding: str | None = None, *, pack: bool = False) -> Decoding:
    """Read the file once from its start: encoding, hash, size, and its packed bytes if asked for.

    Raises FileRejected (empty_file, mixed_encoding, encoding_unknown, line_too_long).
    """
    file.seek(0)
    head = file.read(4096)
    if not head:
        raise rejected("empty_file", "the file is empty", remedy="Was its download or export interrupted?")
    wanted, warning = _from_head(head) if encoding is None else (_known(encoding), None)
    decoder = codecs.getincrementaldecoder(wanted)(errors="strict")
    digest, packer, packed, count = hashlib.sha256(), zlib.compressobj(1), [], 0
    fault: UnicodeError | None = None
    ends = _LineEnds()
    file.seek(0)
    while True:
        chunk = file.read(CHUNK)
        digest.update(chunk)
        count += len(chunk)
        if pack:
            packed.append(packer.compress(chunk))
        if fault is None:
            try:
                ends.look(decoder.decode(chunk, final=not chunk))
            except UnicodeError as error:
                fault = error
        if fault is not None:
            ends.look(chunk.decode("latin-1"))
        if not chunk:
            break
    if fault is not None:
        if encoding is not None:
            raise rejected(
                "encoding_unknown",
                f"the file is not in {wanted}",
                found=str(fault),
                remedy=with_option("Leave the encoding out", ReadingOption.ENCODING, "cp1252"),
            )
        wanted, warning = _without_proof(file)
    if pack:
        packed.append(packer.flush())
    return Decoding(wanted, warning, digest.hexdigest(), count, b"".join(packed) if pack else None)


class _LineEnds:
    """Where lines end in a text that comes in pieces, to find one that is longer than any row."""

    def __init__(self) -> None:
        self._line = 1
        self._length = 0
        """Of the line that the next piece goes on with."""

    def look(self, text: str) -> None:
        """Take the next piece. Raises FileRejected (line_too_long)."""
        ends = [at for at in (text.find("\n"), text.find("\r")) if at >= 0]
        if self._length + min(ends, default=len(text)) > LONGEST_LINE:
            raise rejected(
                "line_too_long",
                f"a line has more than {LONGEST_LINE:,} characters, and no row of notes has",
                line=self._line,
                remedy="Look whether it is the right file. If it is, shorten the text in that line.",
            )
        last = max(text.rfind("\n"), text.rfind("\r"))
        self._length = len(text) - 1 - last if ends else self._length + len(text)
        self._line += text.count("\n") or text.count("\r")


def unpacked(packed: bytes) -> bytes:
    """The bytes of a kept file."""
    return zlib.decompress(packed)


def beginning(packed: bytes, size: int) -> bytes:
    """At most so many of the first bytes of a kept file, of which no more than its beginning is given packed; none
    where they are not those of a packed file.

    >>> beginning(zlib.compress(b"date,diff,runs")[:-6], 4), beginning(b"date,diff,runs", 4)
    (b'date', b'')
    """
    try:
        return zlib.decompressobj().decompress(packed, size)
    except zlib.error:
        return b""


def _known(encoding: str) -> str:
    try:
        io.TextIOWrapper(io.BytesIO(), encoding=encoding)  # which takes encodings of text alone
        codecs.getincrementaldecoder(encoding)
        return codecs.lookup(encoding).name
    except (LookupError, UnicodeError, ValueError):
        raise InputError(
            f"there is no encoding named {encoding!r}",
            code="unknown_encoding",
            wanted="a name such as utf-8, cp1252 or utf-16",
            remedy=with_option(None, ReadingOption.ENCODING, "cp1252"),
        ) from None


def _from_head(head: bytes) -> tuple[str, str | None]:
    for mark, encoding in _MARKS:
        if head.startswith(mark):
            return encoding, None
    pairs = len(head) // 2
    even, odd = head[0 : 2 * pairs : 2].count(0), head[1 : 2 * pairs : 2].count(0)
    if pairs and odd > 0.4 * pairs and even < 0.05 * pairs:
        return "utf-16-le", "encoding_guessed:utf-16-le"
    if pairs and even > 0.4 * pairs and odd < 0.05 * pairs:
        return "utf-16-be", "encoding_guessed:utf-16-be"
    return "utf-8", None


def _without_proof(file: BinaryIO) -> tuple[str, str]:
    """cp1252 if no line has valid multi-byte UTF-8 and every byte is defined there."""
    file.seek(0)
    stray: tuple[int, int] | None = None
    multi_byte = False
    for number, line in enumerate(file, 1):
        if line.isascii():
            continue
        rest = _MULTI_BYTE.sub(b"", line)
        multi_byte = multi_byte or rest != line
        if stray is None and not rest.isascii():
            stray = number, next(byte for byte in rest if byte > 0x7F)
        if stray and multi_byte:
            raise rejected(
                "mixed_encoding",
                f"byte 0x{stray[1]:02X} is not UTF-8, but other lines are",
                line=stray[0],
                remedy=with_option("Save the file again in one encoding.", ReadingOption.ENCODING),
            )
        try:
            line.decode("cp1252")
        except UnicodeDecodeError as fault:
            raise rejected(
                "encoding_unknown",
                f"byte 0x{line[fault.start]:02X} is neither UTF-8 nor cp1252",
                line=number,
                remedy=with_option(None, ReadingOption.ENCODING, "mac_roman or cp850"),
            ) from None
    return "cp1252", "encoding_assumed:cp1252"
