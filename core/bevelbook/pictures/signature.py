"""What a file is by its first bytes, whatever its name says; and the size that a WebP file claims.

JPEG: ITU-T T.81, annex B (SOI marker). PNG: ISO/IEC 15948, 5.2. GIF: GIF89a specification, 17. TIFF: TIFF 6.0,
section 2, and BigTIFF. WebP: RFC 9649, section 2. HEIC, AVIF and films: the brands of ISO/IEC 14496-12, 4.3.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

Format = Literal["JPEG", "PNG", "GIF", "TIFF", "WebP"]

_READABLE: Final[tuple[tuple[bytes, Format], ...]] = (
    (b"\xff\xd8\xff", "JPEG"),
    (b"\x89PNG\r\n\x1a\n", "PNG"),
    (b"GIF87a", "GIF"),
    (b"GIF89a", "GIF"),
    (b"II*\0", "TIFF"),
    (b"MM\0*", "TIFF"),
    (b"II+\0", "TIFF"),
    (b"MM\0+", "TIFF"),
)
_OTHERS: Final = (
    (b"%PDF-", "a PDF document"),
    (b"BM", "a BMP picture"),
    (b"\0\0\0\x0cjP  \r\n\x87\n", "a JPEG 2000 picture"),
    (b"\0\0\0\x0cJXL \r\n\x87\n", "a JPEG XL picture"),
    (b"\xff\x0a", "a JPEG XL picture"),
    (b"8BPS", "a layered picture"),
    (b"IIU\0", "a RAW file"),
    (b"IIRO", "a RAW file"),
    (b"IIRS", "a RAW file"),
    (b"MMOR", "a RAW file"),
    (b"\x1aE\xdf\xa3", "a film"),
)
_HEIC: Final = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs"})
_AVIF: Final = frozenset({b"avif", b"avis"})
_STILLS: Final = frozenset({b"mif1", b"msf1", b"miaf"})
_RAW: Final = frozenset({b"crx "})
_MARKED_UP: Final = (b"<svg", b"<?xml", b"<!doctype", b"<html")


class Signature(NamedTuple):
    """What a file is: one of the formats that are read, or what else it is in words; neither where nothing is known."""

    format: Format | None
    other: str = ""


def signature_of(file: bytes) -> Signature:
    """What a file is by its content.

    >>> signature_of(bytes.fromhex("ffd8ffe0")), signature_of(b"hello")
    (Signature(format='JPEG', other=''), Signature(format=None, other=''))
    """
    for begins, found in _READABLE:
        if file.startswith(begins):
            return Signature(found)
    if file[:4] == b"RIFF":
        return Signature("WebP") if file[8:12] == b"WEBP" else Signature(None, "a sound or a film")
    if file[4:8] == b"ftyp":
        return Signature(None, _of_brands(file))
    for begins, words in _OTHERS:
        if file.startswith(begins):
            return Signature(None, words)
    start = file[:512].removeprefix(b"\xef\xbb\xbf").lstrip().lower()
    if start.startswith(_MARKED_UP):
        return Signature(None, "an SVG drawing" if b"<svg" in file[:4096].lower() else "a page of a browser")
    return Signature(None)


def _of_brands(file: bytes) -> str:
    length = min(int.from_bytes(file[:4], "big"), 256)
    brands = [file[8:12], *(file[place : place + 4] for place in range(16, length, 4))]
    for known, words in ((_AVIF, "an AVIF picture"), (_HEIC, "a HEIC picture"), (_RAW, "a RAW file")):
        if known.intersection(brands):
            return words
    return "a HEIC picture" if _STILLS.intersection(brands) else "a film"


def webp_size(file: bytes) -> tuple[int, int] | None:
    """Width and height of a WebP picture in pixels as its header says; None where it has none.

    Its decoder takes memory for the whole picture when it is opened, so the size has to be known before (RFC 9649,
    sections 2.5 to 2.7).
    """
    chunk, data = file[12:16], file[20:]
    if chunk == b"VP8X" and len(data) >= 10:
        return 1 + int.from_bytes(data[4:7], "little"), 1 + int.from_bytes(data[7:10], "little")
    if chunk == b"VP8L" and len(data) >= 5:
        bits = int.from_bytes(data[1:5], "little")
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    if chunk == b"VP8 " and len(data) >= 10:
        return int.from_bytes(data[6:8], "little") & 0x3FFF, int.from_bytes(data[8:10], "little") & 0x3FFF
    return None
