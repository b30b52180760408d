"""Fetching a weekend from another laptop in the same network: asked once, by its bare address, with its code.

Nothing else is ever fetched. A bare address needs no name server, so that nothing of it leaves the network; one that is
not of a private network is refused before anything is sent. No other address that the answer names is gone to.
"""

from __future__ import annotations

import ipaddress
import json
import socket
import threading
from contextlib import suppress
from http.client import HTTPConnection, HTTPException, HTTPResponse
from io import BufferedReader, RawIOBase
from time import monotonic
from typing import Any, BinaryIO, Final, NamedTuple
from urllib.parse import urlencode, urlsplit

from bevelbook.declare.errors import InputError
from bevelbook.interchange.export_words import size_in_words
from bevelbook.web.host.page import ENTER
from bevelbook.web.pairing.host_names import as_address

WEEKEND_ADDRESS: Final = f"/-/{ENTER}/weekend"
"""Where a laptop gives its weekend, whatever its book is called."""
ZIP: Final = "application/zip"
CODE_WRONG: Final = "weekend_code_wrong"
CODES_WAIT: Final = "pairing_codes_wait"
USUAL_PORT: Final = 8002
LOWEST_PORT: Final = 1024
"""Below it are the ports of other services: routers, printers, mail."""
MOST_BYTES: Final = 200_000_000
"""The longest file that is fetched."""
SILENT_S: Final = 10.0
"""How long the other laptop may be silent."""
WHOLE_S: Final = 240.0
"""How long all of it may take."""
HEAD_S: Final = 20.0
"""How long it may take until a file begins to come: it was made before its code was shown."""
SLOWEST_BYTES_PER_S: Final = 2_000
"""What comes slower than this is given up, after the seconds that it may be silent; our own figure."""
_MOST_HEAD_BYTES: Final = 100_000
"""All that may come before a file, also answers that only say that one will come."""
_MOST_WORDS_BYTES: Final = 10_000
_PIECE: Final = 1 << 16
_NETWORKS: Final = tuple(
    map(
        ipaddress.ip_network,
        (
            *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8"),
            *("fc00::/7", "fe80::/10", "::1/128"),
        ),
    )
)
"""Private networks (RFC 1918, RFC 4193), those without a server that gives addresses (RFC 3927, RFC 4291), and this
machine."""
_TYPE_IT: Final = "Type it as the other laptop shows it, such as 192.168.1.7:8002."
_ONCE_MORE: Final = "Ask for a new code there, and try once more."


class LaptopAddress(NamedTuple):
    """A bare address and a port."""

    host: str
    port: int

    def __str__(self) -> str:
        return f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}"


def laptop_address(text: str, *, may_be_here: bool = True) -> LaptopAddress:
    """The address of another laptop as a person types it. Raises InputError for a name, an address out in the internet,
    or a port of another service; and for this machine itself unless ``may_be_here``.

    >>> print(laptop_address("192.168.1.7:8002"), laptop_address("http://10.0.0.2/"))
    192.168.1.7:8002 10.0.0.2:8002
    """
    typed = text.strip()
    if not typed or any(one.isspace() or one in "@?#\\" for one in typed):
        raise _wrong("this is not the address of a laptop")
    try:
        parts = urlsplit(typed if "://" in typed else f"http://{typed}")
        host, port = parts.hostname or "", parts.port
    except ValueError:
        raise _wrong("this is not the address of a laptop") from None
    if parts.scheme != "http":
        raise _wrong("only plain http is spoken between laptops")
    bare = as_address(host)
    if bare is None:
        raise _wrong("this is a name, and only the numbers of an address are taken")
    if not any(bare.version == one.version and bare in one for one in _NETWORKS):
        raise InputError(
            "this address is not of a private network, and from no other is anything fetched",
            code="laptop_address",
            remedy="If that laptop shows it so, nothing can be gathered in this network: go both into one of your own, "
            "such as a phone's hotspot, or have that laptop write a file and bring that over: "
            "'bevelbook export --since 2026-05-01 weekend.zip' there, 'bevelbook merge weekend.zip' here.",
        )
    if bare.is_loopback and not may_be_here:
        raise _wrong("this address is the laptop itself")
    found = LaptopAddress(
        host if ":" in host and bare.version == 6 else str(bare), USUAL_PORT if port is None else port
    )
    if found.port < LOWEST_PORT:
        raise _wrong(f"ports below {LOWEST_PORT} belong to other services")
    return found


def is_gathered_from(address: str) -> bool:
    """Whether another laptop fetches from an address that this one shows."""
    try:
        laptop_address(address)
    except InputError:
        return False
    return True


class FetchStop:
    """Ends a fetch from another thread, whatever it waits for; what it ended with is what the fetch raises."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._reached: socket.socket | None = None
        self.fault: InputError | None = None

    def reach(self, reached: socket.socket) -> None:
        """Say by which connection it comes."""
        with self._lock:
            self._reached = reached
            self._shut()

    def end(self, fault: InputError) -> None:
        """End it; only the first fault counts."""
        with self._lock:
            self.fault = self.fault or fault
            self._shut()

    def _shut(self) -> None:
        if self.fault is not None and self._reached is not None:
            with suppress(OSError):
                self._reached.shutdown(socket.SHUT_RDWR)


class _Counted(RawIOBase):
    """What comes over a connection: before the content only so much."""

    def __init__(self, raw: Any) -> None:
        self._raw = raw
        self._came = 0
        self.is_head = True

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int | None:
        count: int | None = self._raw.readinto(buffer)
        self._came += count or 0
        if self.is_head and self._came > _MOST_HEAD_BYTES:
            raise HTTPException("no file begins")
        return count

    def close(self) -> None:
        self._raw.close()
        super().close()


class _Answer(HTTPResponse):
    """An answer whose beginning is bounded: the library passes over any number of those that announce another."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._counted = _Counted(self.fp.detach())
        self.fp = BufferedReader(self._counted)

    def begin(self) -> None:
        super().begin()
        self._counted.is_head = False


def fetch_weekend(
    there: LaptopAddress,
    code: str,
    person: str,
    file: BinaryIO,
    *,
    silent_s: float = SILENT_S,
    whole_s: float = WHOLE_S,
    head_s: float = HEAD_S,
    most_bytes: int = MOST_BYTES,
    stop: FetchStop | None = None,
) -> int:
    """Write what the other laptop gives into a file; returns its bytes. Raises InputError where it gives nothing, or
    ``stop`` ended it."""
    connection = HTTPConnection(there.host, there.port, timeout=silent_s)
    connection.response_class = _Answer
    stop = stop or FetchStop()
    timers = [_ending(stop, there, after_s) for after_s in (head_s, whole_s)]
    try:
        connection.connect()
        stop.reach(connection.sock)
        connection.request(
            "POST",
            WEEKEND_ADDRESS,
            body=urlencode({"code": code, "by": person}),
            headers={
                "Host": str(there._replace(host=there.host.partition("%")[0])),
                "Content-Type": "application/x-www-form-urlencoded",
                "Accept": ZIP,
                "Connection": "close",
            },
        )
        with connection.getresponse() as answer:
            said = _length_of(answer, there, most_bytes)
            timers[0].cancel()
            came = _copied(answer, file, said, silent_s, there)
    except (HTTPException, InputError, OSError) as fault:
        if stop.fault is not None:
            raise stop.fault from fault
        if isinstance(fault, InputError):
            raise
        if isinstance(fault, TimeoutError):
            raise _failed(
                "the other laptop says nothing", there, "Look whether it is awake and in the same network."
            ) from fault
        if isinstance(fault, HTTPException):
            raise _no_book(there) from fault
        raise _failed(
            "nothing answers there",
            there,
            "Look whether that laptop is awake and in the same network, and was started with "
            "'bevelbook enter --host 0.0.0.0 --allow-network'.",
        ) from fault
    finally:
        for timer in timers:
            timer.cancel()
        connection.close()
    if stop.fault is not None:
        raise stop.fault
    if came != said:
        raise _failed("it did not come whole", there, _ONCE_MORE)
    return came


def _ending(stop: FetchStop, there: LaptopAddress, after_s: float) -> threading.Timer:
    timer = threading.Timer(after_s, stop.end, [_too_slow(there, f"it takes longer than {after_s:.0f} s")])
    timer.daemon = True
    timer.start()
    return timer


def _length_of(answer: HTTPResponse, there: LaptopAddress, most_bytes: int) -> int:
    """How long the file is that an answer brings. Raises InputError for any other answer."""
    refused = _code_of_refusal(answer) if answer.status in (403, 429) else ""
    if refused == CODE_WRONG:
        raise InputError(
            "no weekend waits there with this code",
            code="weekend_code_wrong",
            remedy="Type the code that the other laptop shows now; each is for once.",
        )
    if refused == CODES_WAIT:
        raise _failed("too many wrong codes came there", there, "Wait for a minute, and type the right one.")
    if 300 <= answer.status < 400:
        raise _failed("it sends on to another address, which is not gone to", there, _TYPE_IT)
    kind = answer.headers.get_content_type()
    if answer.status != 200 or kind != ZIP or answer.length is None:
        raise _no_book(there)
    if answer.length > most_bytes:
        raise _failed(
            f"it would send {size_in_words(answer.length)}, and at most {size_in_words(most_bytes)} are taken",
            there,
            "Have it given without pictures and files, or take a whole export over with a stick.",
        )
    return answer.length


def _code_of_refusal(answer: HTTPResponse) -> str:
    """The code of an error in an answer of a book; empty for that of any other program."""
    if answer.headers.get_content_type() != "application/json":
        return ""
    try:
        said = json.loads(answer.read(_MOST_WORDS_BYTES))
    except (ValueError, RecursionError):
        return ""
    return str(said.get("code", "")) if isinstance(said, dict) and said.get("done") == "refused" else ""


def _copied(answer: HTTPResponse, file: BinaryIO, most: int, silent_s: float, there: LaptopAddress) -> int:
    """The bytes that came. Raises InputError where too few come in a time."""
    came, begun = 0, monotonic()
    while came < most and (piece := answer.read1(min(_PIECE, most - came))):
        came += file.write(piece)
        lasted_s = monotonic() - begun
        if lasted_s > silent_s and came < lasted_s * SLOWEST_BYTES_PER_S:
            raise _too_slow(there, "almost nothing comes")
    return came


def _wrong(what: str) -> InputError:
    return InputError(what, code="laptop_address", remedy=_TYPE_IT)


def _failed(what: str, there: LaptopAddress, remedy: str) -> InputError:
    return InputError(what, code="not_gathered", found=str(there), remedy=remedy)


def _too_slow(there: LaptopAddress, what: str) -> InputError:
    return _failed(what, there, "Go nearer to each other, and ask for a new code.")


def _no_book(there: LaptopAddress) -> InputError:
    return _failed("there is no laptop that gives a weekend", there, _TYPE_IT)
