"""The file with the paired phones and the signing secret, in the user's configuration folder, closed to others.

It is a small SQLite file, so that two processes never spoil each other's changes. The phones belong to one book: the
database whose mark they were paired for.
"""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Collection, Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from secrets import token_hex, token_urlsafe
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, Place, UnknownNameError, shown
from bevelbook.display.clock import local_time
from bevelbook.store.book_mark import is_mark
from bevelbook.store.closed_file import make_closed_folder

FILE_NAME: Final = "phones.db"
_WAIT_SECONDS: Final = 15.0
_READING_WAITS_SECONDS: Final = 1.0
"""How long a page waits for a file of phones that another program holds."""
_SEEN_AGAIN_SECONDS: Final = 60.0
_LOCKED: Final = "locked"
"""What SQLite says of a file that another program holds."""
_TABLES: Final = (
    "CREATE TABLE IF NOT EXISTS secret (one INTEGER PRIMARY KEY CHECK (one = 1), value TEXT NOT NULL) STRICT",
    "CREATE TABLE IF NOT EXISTS phones (id TEXT PRIMARY KEY, book TEXT NOT NULL, name TEXT NOT NULL, "
    "person TEXT NOT NULL, code_hash TEXT NOT NULL UNIQUE, paired_at TEXT NOT NULL, seen_at TEXT NOT NULL) STRICT",
    "CREATE TABLE IF NOT EXISTS phone_addresses (phone TEXT NOT NULL, address TEXT NOT NULL, seen_at TEXT NOT NULL, "
    "is_left INTEGER NOT NULL DEFAULT 0, is_here INTEGER NOT NULL DEFAULT 0, PRIMARY KEY (phone, address)) STRICT",
)
_COLUMNS: Final = "id, name, person, paired_at, seen_at"
KEPT_FOR: Final = timedelta(weeks=4)
"""For how long an address at which a phone was seen counts beside the one at which it was seen last: entries may wait
on it there. Longer than any browser that is not used is known to keep them, and than most teams stay away."""


class KnownAddress(NamedTuple):
    """An address at which a phone was seen (``http://192.0.2.7:8002``), to which its browser binds what waits there,
    and when it was seen there last; ``is_left`` where the book was moved to another one since, which was said, and
    ``is_here`` where it came from this computer itself."""

    address: str
    seen_at: str
    is_left: bool = False
    is_here: bool = False


class Phone(NamedTuple):
    """A paired phone: what it is called, who holds it, when it was paired and last seen (UTC, ISO 8601), and the
    addresses at which it was seen in the weeks before, the last one first."""

    id: str
    name: str
    person: str
    paired_at: str
    seen_at: str
    addresses: tuple[KnownAddress, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The phone for programs."""
        return {**self._asdict(), "addresses": [one._asdict() for one in self.addresses]}


class PairedPhone(NamedTuple):
    """A phone that was paired just now, and its own code, which is kept nowhere else."""

    phone: Phone
    own_code: str


class PairingsFile:
    """The phones of one book, read again at each question, so that what another process changed holds at once.

    ``notices`` are lines for the person who starts the server: what was wrong with the file and is put right.
    Each way to use it raises DatabaseError where the file cannot be read or written.
    """

    def __init__(self, folder: Path, book: str) -> None:
        if not is_mark(book):
            raise ValueError(f"not the mark of a book: {book!r}")
        self.path = folder / FILE_NAME
        self.book = book
        self.notices: tuple[str, ...] = ()
        self._make_ready()

    @property
    def cookie(self) -> str:
        """The name of the cookie: cookies do not keep two ports of a machine apart, so it names the book."""
        return f"bevelbook_phone_{self.book[:8]}"

    def secret(self) -> str:
        """What signs the cookies; made once."""
        with self._open() as connection:
            connection.execute("INSERT OR IGNORE INTO secret (one, value) VALUES (1, ?)", (token_hex(32),))
            return str(connection.execute("SELECT value FROM secret").fetchone()[0])

    def add(self, name: str, person: str, *, now: datetime | None = None) -> PairedPhone:
        """Pair a phone. Its own code has 192 bits of chance, so a plain hash of it is enough to keep."""
        at = _words_of(now)
        own_code = token_urlsafe(24)
        phone = Phone(token_hex(8), name, person, at, at)
        with self._open() as connection:
            connection.execute(
                "INSERT INTO phones (id, book, name, person, code_hash, paired_at, seen_at) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)",
                (phone.id, self.book, name, person, _hashed(own_code), at, at),
            )
        return PairedPhone(phone, own_code)

    def all(self) -> list[Phone]:
        """Every phone that is paired with this book, in the order of pairing."""
        with self._open() as connection:
            found = connection.execute(f"SELECT {_COLUMNS} FROM phones WHERE book = ? ORDER BY rowid", (self.book,))
            return [_with_addresses(connection, Phone(*row)) for row in found.fetchall()]

    def find(self, phone_id: str) -> Phone | None:
        """The phone with that id, unless its pairing was ended."""
        return self._one("id = ?", phone_id)

    def with_own_code(self, own_code: str) -> Phone | None:
        """The phone whose own code this is, unless its pairing was ended."""
        return self._one("code_hash = ?", _hashed(own_code))

    def seen(
        self, phone: Phone, address: str | None = None, *, is_here: bool = False, now: datetime | None = None
    ) -> None:
        """Note that a phone asked for something, at most once a minute, and at which address, whenever that is another;
        ``is_here`` is whether it came from this computer itself. A file that is busy or full goes without."""
        at = now or datetime.now(UTC)
        last = phone.addresses[0] if phone.addresses else None
        is_there = address is None or (last is not None and last.address == address and not last.is_left)
        before = local_time(phone.seen_at) if is_there else None
        if before is not None and (at - before).total_seconds() < _SEEN_AGAIN_SECONDS:
            return
        with suppress(DatabaseError), self._open(wait_seconds=0.0) as connection:
            connection.execute("BEGIN IMMEDIATE")
            connection.execute("UPDATE phones SET seen_at = ? WHERE id = ?", (_words_of(at), phone.id))
            connection.execute(
                "INSERT INTO phone_addresses (phone, address, seen_at, is_here) SELECT id, ?2, ?1, ?4 FROM phones "
                "WHERE id = ?3 AND ?2 IS NOT NULL ON CONFLICT (phone, address) "
                "DO UPDATE SET seen_at = excluded.seen_at, is_left = 0, is_here = excluded.is_here",
                (at.astimezone(UTC).isoformat(timespec="milliseconds"), address, phone.id, is_here),
            )
            connection.execute(
                "DELETE FROM phone_addresses WHERE phone = ?1 AND seen_at < ?2 AND seen_at < "
                "(SELECT max(seen_at) FROM phone_addresses WHERE phone = ?1)",
                (phone.id, _words_of(at - KEPT_FOR)),
            )
            connection.execute("COMMIT")

    def leave(self, left: Iterable[tuple[Phone, KnownAddress]]) -> None:
        """Note that the book is not at these addresses of phones any more, which was said."""
        with self._open() as connection:
            connection.executemany(
                "UPDATE phone_addresses SET is_left = 1 WHERE phone = ? AND address = ?",
                [(phone.id, known.address) for phone, known in left],
            )

    def give_to(self, phone: Phone, person: str) -> None:
        """Another person holds the phone from now on."""
        with self._open() as connection:
            connection.execute("UPDATE phones SET person = ? WHERE id = ?", (person, phone.id))

    def end(self, phone: Phone) -> None:
        """End a pairing: the phone is refused from its next request on."""
        with self._open() as connection:
            connection.execute("DELETE FROM phone_addresses WHERE phone = ?", (phone.id,))
            connection.execute("DELETE FROM phones WHERE id = ?", (phone.id,))

    def held_by(self, names: Collection[str]) -> list[Phone]:
        """The phones that a person of one of these names holds."""
        folded = {name.casefold() for name in names}
        return [phone for phone in self.all() if phone.person.casefold() in folded]

    def end_for_good(self, names: Collection[str]) -> None:
        """End the pairings of a person of one of these names, and leave nothing of them in the file."""
        with self._open() as connection:
            connection.execute("PRAGMA secure_delete = ON")
            for phone in self.held_by(names):
                connection.execute("DELETE FROM phone_addresses WHERE phone = ?", (phone.id,))
                connection.execute("DELETE FROM phones WHERE id = ?", (phone.id,))
            connection.execute("VACUUM")

    def named(self, name_or_id: str) -> Phone:
        """The phone of that name or id. Raises UnknownNameError, or DatabaseError where two phones have the name."""
        phones = self.all()
        found = [phone for phone in phones if phone.id == name_or_id]
        found = found or [phone for phone in phones if phone.name.casefold() == name_or_id.casefold()]
        if not found:
            raise UnknownNameError("phone", name_or_id, [phone.name for phone in phones])
        if len(found) > 1:
            raise DatabaseError(
                f"{len(found)} phones are named {shown(name_or_id)}",
                code="phone_named_twice",
                remedy=f"Name one by its id: {', '.join(phone.id for phone in found)}.",
            )
        return found[0]

    def _one(self, condition: str, value: str) -> Phone | None:
        with self._open(_READING_WAITS_SECONDS) as connection:
            sql = f"SELECT {_COLUMNS} FROM phones WHERE book = ? AND {condition}"
            row = connection.execute(sql, (self.book, value)).fetchone()
            return None if row is None else _with_addresses(connection, Phone(*row))

    def _make_ready(self) -> None:
        try:
            make_closed_folder(self.path.parent)
            os.close(os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600))
            self.notices = (*_closed_to_others(self.path.parent, 0o700), *_closed_to_others(self.path, 0o600))
        except OSError as fault:
            raise self._unusable(fault.strerror or str(fault)) from fault
        with self._open() as connection:
            for table in _TABLES:
                connection.execute(table)
            connection.execute(f"SELECT {_COLUMNS} FROM phones LIMIT 1")

    @contextmanager
    def _open(self, wait_seconds: float = _WAIT_SECONDS) -> Iterator[sqlite3.Connection]:
        try:
            uri = f"{self.path.absolute().as_uri()}?mode=rw"
            with closing(sqlite3.connect(uri, uri=True, timeout=wait_seconds, isolation_level=None)) as connection:
                yield connection
        except sqlite3.Error as fault:
            raise self._unusable(str(fault)) from fault

    def _unusable(self, why: str) -> DatabaseError:
        if _LOCKED in why:
            remedy = "Another program holds it: end that one, or wait, and try again. Leave the file as it is."
        else:
            remedy = (
                "Nothing of the book is in it. Make sure that you may read and write it; if it is damaged, rename it "
                "and start again: a new one is made, and each phone is paired once more."
            )
        return DatabaseError(
            "the file with the paired phones cannot be used",
            code="phones_file",
            place=Place(str(self.path)),
            found=why,
            remedy=remedy,
        )


def _closed_to_others(path: Path, mode: int) -> tuple[str, ...]:
    """Take from others what they may do with a file or folder of ours; a line about it where they could.

    Where the system has no such modes (Windows), everything is left as it is.
    """
    if os.name != "posix":
        return ()
    found = stat.S_IMODE(path.stat().st_mode)
    if not found & 0o077:
        return ()
    path.chmod(mode)
    if path.is_dir() and not found & 0o022:
        return ()
    return (
        f"{path} was open to other users of this computer, and is closed now. If somebody else uses this computer, "
        f"remove {FILE_NAME} there and pair the phones once more.",
    )


def _with_addresses(connection: sqlite3.Connection, phone: Phone) -> Phone:
    known = connection.execute(
        "SELECT address, seen_at, is_left, is_here FROM phone_addresses WHERE phone = ? "
        "ORDER BY seen_at DESC, rowid DESC",
        (phone.id,),
    )
    return phone._replace(addresses=tuple(KnownAddress(row[0], row[1], bool(row[2]), bool(row[3])) for row in known))


def _hashed(own_code: str) -> str:
    return sha256(own_code.encode("utf-8", "surrogatepass")).hexdigest()


def _words_of(now: datetime | None) -> str:
    return (now or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds")
