"""Fetching a weekend from another laptop in the same network: asked once, by its bare address, with its code.

Nothing else is ever fetched. A bare address needs no name server, so that nothing of it leaves the network; one that is
not of a private network is refused before anything is sent. No other address that the answer names is gone to.
"""

from __future__ import annotations

import ipaddress
import socket
import threading
from contextlib import suppress
from http.client import HTTPConnection, HTTPException, HTTPResponse
from typing import BinaryIO, Final, NamedTuple
from urllib.parse import urlencode, urlsplit

from bevelbook.declare.errors import InputError
from bevelbook.interchange.export_words import size_in_words
from bevelbook.web.host.page import ENTER
from bevelbook.web.pairing.host_names import as_address

WEEKEND_ADDRESS: Final = f"/-/{ENTER}/weekend"
"""Where a laptop gives its weekend, whatever its book is called."""
ZIP: Final = "application/zip"
USUAL_PORT: Final = 8002
LOWEST_PORT: Final = 1024
"""Below it are the ports of other services: routers, printers, mail."""
MOST_BYTES: Final = 200_000_000
"""The longest file that is fetched."""
SILENT_S: Final = 10.0
"""How long the other laptop may be silent."""
WHOLE_S: Final = 240.0
"""How long all of it may take."""
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


def laptop_address(text: str) -> LaptopAddress:
    """The address of another laptop as a person types it. Raises InputError for a name, an address out in the internet,
    or a port of another service.

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
        raise _wrong("this address is not of a network of your own")
    found = LaptopAddress(
        host if ":" in host and bare.version == 6 else str(bare), USUAL_PORT if port is None else port
    )
    if found.port < LOWEST_PORT:
        raise _wrong(f"ports below {LOWEST_PORT} belong to other services")
    return found


def fetch_weekend(
    there: LaptopAddress,
    code: str,
    person: str,
    file: BinaryIO,
    *,
    silent_s: float = SILENT_S,
    whole_s: float = WHOLE_S,
    most_bytes: int = MOST_BYTES,
) -> int:
    """Write what the other laptop gives into a file; returns its bytes. Raises InputError where it gives nothing."""
    connection = HTTPConnection(there.host, there.port, timeout=silent_s)
    late = threading.Event()
    stopper: threading.Timer | None = None
    try:
        connection.connect()
        reached: socket.socket = connection.sock

        def stop() -> None:
            late.set()
            with suppress(OSError):
                reached.shutdown(socket.SHUT_RDWR)

        stopper = threading.Timer(whole_s, stop)
        stopper.daemon = True
        stopper.start()
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
            came = _copied(answer, file, said)
    except TimeoutError as fault:
        raise _failed(
            "the other laptop says nothing", there, "Look whether it is awake and in the same network."
        ) from fault
    except (HTTPException, InputError, OSError) as fault:
        if late.is_set():
            raise _too_slow(there, whole_s) from fault
        if isinstance(fault, InputError):
            raise
        if isinstance(fault, HTTPException):
            raise _no_book(there) from fault
        raise _failed(
            "nothing answers there",
            there,
            "Look whether that laptop is awake and in the same network, and was started with "
            "'bevelbook enter --host 0.0.0.0 --allow-network'.",
        ) from fault
    finally:
        if stopper is not None:
            stopper.cancel()
        connection.close()
    if late.is_set():
        raise _too_slow(there, whole_s)
    if came != said:
        raise _failed("it did not come whole", there, _ONCE_MORE)
    return came


def _length_of(answer: HTTPResponse, there: LaptopAddress, most_bytes: int) -> int:
    """How long the file is that an answer brings. Raises InputError for any other answer."""
    if answer.status == 403:
        raise InputError(
            "no weekend waits there with this code",
            code="weekend_code_wrong",
            remedy="Type the code that the other laptop shows now; each is for once.",
        )
    if answer.status == 429:
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


def _copied(answer: HTTPResponse, file: BinaryIO, most: int) -> int:
    came = 0
    while came < most and (piece := answer.read(min(_PIECE, most - came))):
        came += file.write(piece)
    return came


def _wrong(what: str) -> InputError:
    return InputError(what, code="laptop_address", remedy=_TYPE_IT)


def _failed(what: str, there: LaptopAddress, remedy: str) -> InputError:
    return InputError(what, code="not_gathered", found=str(there), remedy=remedy)


def _too_slow(there: LaptopAddress, whole_s: float) -> InputError:
    return _failed(f"it takes longer than {whole_s:.0f} s", there, "Go nearer to each other, and ask for a new code.")


def _no_book(there: LaptopAddress) -> InputError:
    return _failed("there is no laptop that gives a weekend", there, _TYPE_IT)
