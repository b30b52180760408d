"""A zip that was sent, unpacked within bounds into a folder aside.

Nothing that it says of itself is believed: each entry is unpacked piece by piece and counted as it comes, entries may
not lie over each other, and no name of it reaches the disk unless it is a plain one below one folder.
Source for the form: the application note of the ZIP file format, sections 4.3 and 4.4, from memory.
"""

from __future__ import annotations

import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, Final, NamedTuple, NoReturn
from unicodedata import normalize

from bevelbook.declare.errors import DatabaseError, Place, shown
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.unseen import without_unseen
from bevelbook.interchange.added_by_computers import is_added_by_computer
from bevelbook.interchange.descriptor import DESCRIPTOR
from bevelbook.meeting.copied_whole import open_plain
from bevelbook.store.edition_folder import DATABASE_ENDING, EDITION_FILE
from bevelbook.store.room_for_copy import room_for_copy

LARGEST_ZIP_BYTES: Final = 2_000_000_000
LARGEST_UNPACKED_BYTES: Final = 4_000_000_000
MOST_FILES: Final = 20_000
MOST_TIMES_AS_LARGE: Final = 100
BESIDE_BYTES: Final = 50_000_000
"""All of it may be so many times as large as the zip, and this more."""
DEEPEST: Final = 4
"""Folders within each other."""
LONGEST_NAME_BYTES: Final = 500
BOUNDS_IN_WORDS: Final = (
    f"A zip may have up to {LARGEST_ZIP_BYTES / 1e9:g} GB and {MOST_FILES} files, and unpack to at most "
    f"{MOST_TIMES_AS_LARGE} times its size and {BESIDE_BYTES / 1e6:g} MB more, or {LARGEST_UNPACKED_BYTES / 1e9:g} GB."
)
"""To be said beforehand. All figures are our own."""
_SIGNATURE: Final = b"PK\3\4"
_EMPTY: Final = b"PK\5\6"
_END: Final = struct.Struct("<4s4H2LH")
_ENTRY: Final = struct.Struct("<4s5H3L2H")
_FAR_END: Final = b"PK\6\7"
_FAR_END_BYTES: Final = 20
_MOST_OF_AN_ENTRY: Final = 46 + LONGEST_NAME_BYTES + 200
_PIECE: Final = 1 << 16
_PLAIN_NAME: Final = late_pattern(r"[0-9A-Za-z_][0-9A-Za-z._-]{0,99}")
_OF_EDITION: Final = "edition.db"
"""What the database of an edition is called on disk, where its book has a name that is not a plain one."""
_DATABASE: Final = b"SQLite format 3\0"
_MOST_LOOKED_AT: Final = 20
"""Files of a zip of which the beginning is looked at where it has not the description of an export."""
ONLY_FILE: Final = "sent"
"""What a single file is called on disk."""


class _Wanted(NamedTuple):
    info: zipfile.ZipInfo
    parts: tuple[str, ...]


def is_zip(path: Path) -> bool:
    """Whether a plain file begins as a zip does. Raises DatabaseError for one that cannot be read."""
    try:
        with open_plain(path) as file:
            return file.read(len(_SIGNATURE)) in (_SIGNATURE, _EMPTY)
    except OSError as fault:
        raise DatabaseError(
            "cannot be read",
            code="not_readable",
            place=Place(str(path)),
            found=fault.strerror,
            remedy="Check the name.",
        ) from fault


def unzipped(path: Path, folder: Path) -> Path:
    """Unpack a zip into an empty folder; returns the folder of an export in it, or the single file that it holds.

    Raises DatabaseError for one that is larger than :data:`BOUNDS_IN_WORDS` says, has a password, is damaged, or has
    names that lead elsewhere.
    """
    try:
        with open_plain(path) as file:
            _refuse_other_end(file, path)
            with zipfile.ZipFile(file) as packed:
                wanted = list(_wanted(packed.infolist(), path))
            size = file.seek(0, 2)
            most = min(LARGEST_UNPACKED_BYTES, MOST_TIMES_AS_LARGE * size + BESIDE_BYTES)
            with room_for_copy(folder):
                return _unpack(file, wanted, most, path, folder)
    except (zipfile.BadZipFile, zlib.error, struct.error, ValueError, NotImplementedError, EOFError) as fault:
        _refuse_damaged(path, str(fault))


def _refuse_other_end(file: BinaryIO, path: Path) -> None:
    """The end of a zip as a small one has it: so that all who read it find the same list of entries."""
    size = file.seek(0, 2)
    if size > LARGEST_ZIP_BYTES:
        _refuse_big(path, f"the zip has {size / 1e9:,.1f} GB")
    if size < _END.size:
        _refuse_damaged(path)
    file.seek(size - _END.size)
    signature, disk, first_disk, here, count, list_bytes, at, comment = _END.unpack(file.read(_END.size))
    if signature != _EMPTY or comment or disk or first_disk or here != count:
        _refuse_damaged(path, "its end is not that of a zip, or something follows it")
    file.seek(max(0, size - _END.size - _FAR_END_BYTES))
    if count > MOST_FILES or file.read(4) == _FAR_END:
        _refuse_big(path, f"it has more than {MOST_FILES} files or says so")
    if list_bytes > count * _MOST_OF_AN_ENTRY or at + list_bytes + _END.size != size:
        _refuse_damaged(path, "its list of files is not where it says")


def _wanted(entries: list[zipfile.ZipInfo], path: Path) -> Iterator[_Wanted]:
    seen: set[str] = set()
    folders: set[str] = set()
    for info in entries:
        name = info.orig_filename
        is_folder = name.endswith("/")
        parts = tuple(name.removesuffix("/").split("/"))
        _refuse_name(name, parts, path)
        alike = "/".join(parts)
        folded = normalize("NFC", alike).casefold()
        if folded in seen and not is_folder:
            _refuse(path, f"two files in it have the name {shown(alike)}, or names that differ only by case")
        mode = stat.S_IFMT(info.external_attr >> 16)
        if mode not in (0, stat.S_IFDIR if is_folder else stat.S_IFREG):
            _refuse(path, f"{shown(alike)} in it is a link or something else that is not a file")
        if info.flag_bits & 0x2041:
            _refuse(path, f"{shown(alike)} in it has a password", "Ask for it without a password.")
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            _refuse(path, f"{shown(alike)} in it is packed in a way that is not read here")
        folders |= {normalize("NFC", "/".join(parts[:depth])).casefold() for depth in range(1, len(parts))}
        if is_folder:
            if info.file_size or info.compress_size:
                _refuse_damaged(path, f"the folder {shown(alike)} has a content")
            folders.add(folded)
            continue
        seen.add(folded)
        if not any(map(is_added_by_computer, parts)):
            yield _Wanted(info, parts)
    both = seen & folders
    if both:
        _refuse(path, f"{shown(min(both))} in it is a file and a folder")


def _refuse_name(name: str, parts: tuple[str, ...], path: Path) -> None:
    is_odd = (
        any(part in ("", ".", "..") or part != part.strip() or part.endswith(".") for part in parts)
        or "\\" in name
        or ":" in name
        or any(ord(sign) < 32 or 127 <= ord(sign) < 160 for sign in name)
        or without_unseen(name) != name
    )
    if is_odd:
        _refuse(path, f"the name {shown(name)} in it leads elsewhere or has signs that nobody sees")
    if len(parts) > DEEPEST + 1 or len(name.encode()) > LONGEST_NAME_BYTES:
        _refuse(path, f"the name {shown(name)} in it is too long or too deep")


def _unpack(file: BinaryIO, wanted: list[_Wanted], most: int, path: Path, folder: Path) -> Path:
    if not wanted:
        _refuse(path, "it holds no file")
    top = {one.parts[0] for one in wanted}
    below = 1 if len(top) == 1 and all(len(one.parts) > 1 for one in wanted) else 0
    is_single = len(wanted) == 1
    if not is_single and all(one.parts[below:] != (DESCRIPTOR,) for one in wanted):
        _refuse_databases(file, wanted, path)
    odd = None if is_single else _odd_database(wanted, below)
    free_from = 0
    for info, parts in sorted(wanted, key=lambda one: one.info.header_offset):
        if info.header_offset < free_from:
            _refuse(path, f"{shown('/'.join(parts))} in it lies over another file")
        if is_single:
            target = folder / ONLY_FILE
        elif parts == odd:
            target = folder / _OF_EDITION
        else:
            target = folder.joinpath(*_plain(parts[below:], path))
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        start = _start_of(file, info, path)
        with target.open("xb") as out:
            for piece in _pieces(file, info, start, path):
                most -= len(piece)
                if most < 0:
                    _refuse_big(path, "it unpacks to too much")
                out.write(piece)
        free_from = start + info.compress_size
    return folder / ONLY_FILE if is_single else folder


def _refuse_databases(file: BinaryIO, wanted: list[_Wanted], path: Path) -> None:
    """A zip of several databases: which of them comes first, and whether all are to, a person says."""
    found = []
    for info, parts in wanted[:_MOST_LOOKED_AT]:
        with suppress(DatabaseError):  # what is wrong with a file is said where it is unpacked
            if next(_pieces(file, info, _start_of(file, info, path), path), b"").startswith(_DATABASE):
                found.append("/".join(parts))
    if len(found) > 1:
        _refuse(
            path,
            f"there are {len(found)} databases in it: {', '.join(map(shown, found))}",
            "Unpack it, and merge one after the other.",
        )


def _odd_database(wanted: list[_Wanted], below: int) -> tuple[str, ...] | None:
    """The one database of an edition, where its name is not a plain one: a book may be called as its team likes."""
    names = {one.parts[below:]: one.parts for one in wanted}
    databases = [name for name in names if len(name) == 1 and name[0].endswith(DATABASE_ENDING)]
    if (EDITION_FILE,) not in names or len(databases) != 1 or _PLAIN_NAME.fullmatch(databases[0][0]):
        return None
    return names[databases[0]]


def _plain(parts: tuple[str, ...], path: Path) -> tuple[str, ...]:
    """Parts of a name as an export has them."""
    odd = next((part for part in parts if not _PLAIN_NAME.fullmatch(part)), None)
    if odd is not None:
        _refuse(path, f"{shown('/'.join(parts))} in it is not a file of an export")
    return parts


def _start_of(file: BinaryIO, info: zipfile.ZipInfo, path: Path) -> int:
    """Where the bytes of an entry begin; its own head must say what the list says."""
    file.seek(info.header_offset)
    head = _ENTRY.unpack(file.read(_ENTRY.size))
    name = file.read(head[9])
    said = info.orig_filename.encode("utf-8" if head[2] & 0x800 else "cp437")
    if head[0] != _SIGNATURE or name != said or head[3] != info.compress_type or head[2] & 0x2041:
        _refuse_damaged(path, f"{shown(info.orig_filename)} is listed otherwise than it is")
    return int(info.header_offset + _ENTRY.size + head[9] + head[10])


def _pieces(file: BinaryIO, info: zipfile.ZipInfo, start: int, path: Path) -> Iterator[bytes]:
    """The bytes of an entry as they unpack; in the end they must be as many as it says, with its checksum."""
    file.seek(start)
    left, size, checksum = info.compress_size, 0, 0
    unpacker = zlib.decompressobj(-zlib.MAX_WBITS) if info.compress_type == zipfile.ZIP_DEFLATED else None
    rest = b""
    while left > 0 or rest:
        if not rest:
            rest = file.read(min(_PIECE, left))
            left -= len(rest)
            if not rest:
                _refuse_damaged(path, f"{shown(info.orig_filename)} is cut")
        if unpacker is None:
            piece, rest = rest, b""
        else:
            piece = unpacker.decompress(rest, _PIECE)
            rest = unpacker.unconsumed_tail
            if unpacker.unused_data:
                _refuse_damaged(path, f"something follows {shown(info.orig_filename)}")
        size += len(piece)
        checksum = zlib.crc32(piece, checksum)
        if size > info.file_size:
            break
        yield piece
    is_whole = unpacker is None or unpacker.eof
    if size != info.file_size or checksum != info.CRC or not is_whole:
        _refuse_damaged(path, f"{shown(info.orig_filename)} is not what its list says")


def _refuse(path: Path, what: str, remedy: str = "") -> NoReturn:
    raise DatabaseError(
        what,
        code="zip_refused",
        place=Place(path.name),
        remedy=f"Nothing was changed. {remedy or 'Ask for the file as bevelbook export wrote it.'}",
    )


def _refuse_big(path: Path, what: str) -> NoReturn:
    raise DatabaseError(
        what, code="zip_too_big", place=Place(path.name), remedy=f"Nothing was changed. {BOUNDS_IN_WORDS}"
    )


def _refuse_damaged(path: Path, found: str | None = None) -> NoReturn:
    raise DatabaseError(
        "the zip is damaged",
        code="zip_damaged",
        place=Place(path.name),
        found=found or None,
        remedy="Nothing was changed. It may have been cut on its way: ask for it to be sent again.",
    )
