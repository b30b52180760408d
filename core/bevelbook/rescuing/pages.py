"""The pages of a database file as SQLite lays them out (sqlite.org/fileformat2.html), read one by one without SQLite: a
page that is damaged spoils itself and no other.

The file is only read. Changes beside it (-wal) count as far as their checksums are right, up to the last one that was
finished, as SQLite does it.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Final, NamedTuple

from bevelbook.store.closed_file import log_of

TABLE_LEAF: Final = 0x0D
TABLE_INSIDE: Final = 0x05
INDEX_LEAF: Final = 0x0A
INDEX_INSIDE: Final = 0x02
_SIZES: Final = tuple(1 << power for power in range(9, 17))
_HEAD: Final = 100
_LOG_HEAD: Final = 32
_FRAME_HEAD: Final = 24
_LOG_MAGIC: Final = (0x377F0682, 0x377F0683)
_MOST_STRAY: Final = 200
"""Pages that are tried to find out a page size that the head does not tell."""


class PageFault(Exception):
    """A page, or a row on it, that is not as SQLite lays them out; the text says why."""


class LogFrame(NamedTuple):
    """Where a page lies in the changes beside the file."""

    at: int


class PageFile:
    """The pages of a file, numbered from 1, with the changes beside it."""

    def __init__(self, file: BinaryIO, log: BinaryIO | None = None) -> None:
        self._file = file
        self._log = log
        self.byte_count = os.fstat(file.fileno()).st_size
        head = self._read(file, 0, _HEAD)
        self.page_bytes = self._page_bytes(head)
        self.log_is_used = False
        self._in_log = self._frames() if log is not None else {}
        self.log_is_used = bool(self._in_log)
        head = self.page(1)[:_HEAD] if self._in_log.get(1) else head
        reserved = head[20] if len(head) > 20 and head[20] <= self.page_bytes - 480 else 0
        self.usable_bytes = self.page_bytes - reserved
        self.count = max(-(-self.byte_count // self.page_bytes), max(self._in_log, default=0))
        self.user_version = int.from_bytes(head[60:64], "big") if len(head) >= 64 else 0
        self.application_id = int.from_bytes(head[68:72], "big") if len(head) >= 72 else 0
        self.first_free = int.from_bytes(head[32:36], "big") if len(head) >= 36 else 0
        self._many_free = int.from_bytes(head[36:40], "big") if len(head) >= 40 else 0

    def page(self, number: int) -> bytes:
        """A page; what the file lacks of it is zeros. Raises PageFault where there is none, or the disk fails."""
        frame = self._in_log.get(number)
        if frame is not None and self._log is not None:
            return self._read(self._log, frame.at, self.page_bytes)
        at = (number - 1) * self.page_bytes
        if number < 1 or at >= self.byte_count:
            raise PageFault("the file ends before it")
        found = self._read(self._file, at, self.page_bytes)
        return found + bytes(self.page_bytes - len(found))

    def free_pages(self) -> set[int]:
        """The pages that hold nothing any more, as far as the list of them can be read."""
        found: set[int] = set()
        trunk = self.first_free
        while trunk and trunk not in found and trunk <= self.count:
            found.add(trunk)
            try:
                page = self.page(trunk)
            except PageFault:
                break
            many = min(int.from_bytes(page[4:8], "big"), self.usable_bytes // 4 - 2)
            found.update(struct.unpack_from(f">{many}I", page, 8))
            trunk = int.from_bytes(page[:4], "big")
        return found

    def knows_free_pages(self) -> bool:
        """Whether the list of pages that hold nothing any more is whole."""
        return len(self.free_pages()) == self._many_free

    def _page_bytes(self, head: bytes) -> int:
        """As the head says; else the size at which most pages begin as pages of a table or an index do."""
        said = int.from_bytes(head[16:18], "big")
        said = 65_536 if said == 1 else said
        if said in _SIZES and head[:15] == b"SQLite format 3":
            return said
        kinds = (TABLE_LEAF, TABLE_INSIDE, INDEX_LEAF, INDEX_INSIDE)

        def right(size: int) -> float:
            places = range(size, min(self.byte_count, size * _MOST_STRAY), size)
            begins = [self._read(self._file, at, 8) for at in places]
            good = [one for one in begins if one and one[0] in kinds and int.from_bytes(one[5:7], "big") <= size]
            return len(good) / max(len(begins), 4)

        return max(_SIZES, key=right)

    def _frames(self) -> dict[int, LogFrame]:
        """The newest finished change of each page that has any in the log."""
        if self._log is None:
            return {}
        head = self._read(self._log, 0, _LOG_HEAD)
        if len(head) < _LOG_HEAD:
            return {}
        magic, _, size, _, salt_1, salt_2, sum_1, sum_2 = struct.unpack(">8I", head)
        size = 65_536 if size == 1 else size
        if magic not in _LOG_MAGIC or size != self.page_bytes:
            return {}
        order = ">" if magic & 1 else "<"
        so_far = _checksum(head[:24], (0, 0), order)
        if so_far != (sum_1, sum_2):
            return {}
        done: dict[int, LogFrame] = {}
        unfinished: dict[int, LogFrame] = {}
        at = _LOG_HEAD
        while True:
            frame = self._read(self._log, at, _FRAME_HEAD + size)
            if len(frame) < _FRAME_HEAD + size:
                return done
            number, after, one, two, sum_1, sum_2 = struct.unpack_from(">6I", frame)
            so_far = _checksum(frame[_FRAME_HEAD:], _checksum(frame[:8], so_far, order), order)
            if (one, two) != (salt_1, salt_2) or so_far != (sum_1, sum_2) or not number:
                return done
            unfinished[number] = LogFrame(at + _FRAME_HEAD)
            if after:
                done |= unfinished
                unfinished = {}
            at += _FRAME_HEAD + size

    @staticmethod
    def _read(file: BinaryIO, at: int, count: int) -> bytes:
        try:
            return os.pread(file.fileno(), count, at) if hasattr(os, "pread") else _sought(file, at, count)
        except OSError as fault:
            raise PageFault(f"the disk cannot read it: {fault.strerror}") from fault


def _sought(file: BinaryIO, at: int, count: int) -> bytes:
    file.seek(at)
    return file.read(count)


def _checksum(data: bytes, begun: tuple[int, int], order: str) -> tuple[int, int]:
    """SQLite's own of a log (sqlite.org/walformat.html#checksum_algorithm)."""
    one, two = begun
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for first, second in zip(words[::2], words[1::2], strict=True):
        one = (one + first + two) & 0xFFFFFFFF
        two = (two + second + one) & 0xFFFFFFFF
    return one, two


@contextmanager
def opened_pages(path: Path, *, with_log: bool = True) -> Iterator[PageFile]:
    """The pages of a file that is only read. Raises OSError, PageFault where not even its beginning can be read."""
    log = log_of(path)
    with path.open("rb", buffering=0) as file:
        if with_log and log.is_file() and not log.is_symlink():
            with log.open("rb", buffering=0) as beside:
                yield PageFile(file, beside)
        else:
            yield PageFile(file)
