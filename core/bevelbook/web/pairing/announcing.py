"""The name of this machine, said in its networks so that phones find it (RFC 6762), with the extra ``announce``.

Only where a book is open to a network: each address of this machine is answered in its own network alone. A name that
another machine there has is left to that one.
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from importlib.util import find_spec
from typing import TYPE_CHECKING, Final, NamedTuple

from bevelbook.web.pairing.own_addresses import own_addresses

if TYPE_CHECKING:
    from zeroconf import Zeroconf

INSTALL: Final = "pip install 'bevelbook[announce]'"
SERVICE: Final = "_http._tcp.local."
"""How pages are announced (RFC 6763)."""
_LONGEST_LABEL: Final = 63
_ASKING_MS: Final = 750
"""How long the network is asked whether a name is taken: three times a quarter of a second, as RFC 6762 has it."""
_LOOKS_AGAIN_S: Final = 15.0
"""How often it is looked at whether this machine is in another network."""


class TakenName(NamedTuple):
    """A name that another machine of the network has, and its address."""

    name: str
    by: str


class _Said(NamedTuple):
    """What is said in one network."""

    address: str
    zeroconf: Zeroconf


def can_announce() -> bool:
    """Whether the library is there."""
    return find_spec("zeroconf") is not None


class Announcement:
    """Names such as ``team.local`` said at the addresses that ``addresses`` gives, again whenever those change.

    ``live`` are the names that are said now, ``taken`` those that another machine has, ``fault`` why nothing can be
    said here. ``tell`` is called with a line when that changes later.
    """

    def __init__(
        self,
        names: Sequence[str],
        port: int,
        addresses: Callable[[], Iterable[str]],
        tell: Callable[[str], None] | None = None,
    ) -> None:
        self.live: tuple[str, ...] = ()
        self.taken: tuple[TakenName, ...] = ()
        self.fault = ""
        self.tell = tell
        self._names = tuple(names)
        self._port = port
        self._addresses = addresses
        self._at: tuple[str, ...] = ()
        self._said: list[_Said] = []
        self._ended = threading.Event()
        self._following = threading.Thread(target=self._follow, name="announcing", daemon=True)

    def start(self) -> None:
        """Ask whether the names are free, which takes less than a second, and say those that are from then on."""
        self._begin(tuple(self._addresses()))
        self._following.start()

    def stop(self) -> None:
        """Take the names back from the network. A second time does nothing."""
        self._ended.set()
        if self._following.is_alive() and self._following is not threading.current_thread():
            self._following.join()
        self._end()

    def look_again(self) -> None:
        """Say the names at the addresses of now, where this machine has others than before."""
        now = tuple(self._addresses())
        if now == self._at:
            return
        before = (self.live, self.taken)
        self._end()
        self._begin(now)
        self._say_names()
        if self.tell is not None and (self.live, self.taken) != before:
            for line in self.lines():
                self.tell(line)

    def lines(self) -> list[str]:
        """What a person is to know of names that are not said, in words."""
        said = [
            f"Another machine of this network is {one.name} already ({one.by}), so this book goes without that name."
            for one in self.taken
        ]
        if self.fault:
            said.append(f"No name can be announced in this network: {self.fault}.")
        return said

    def _follow(self) -> None:
        self._say_names()
        while not self._ended.wait(_LOOKS_AGAIN_S):
            self.look_again()

    def _begin(self, addresses: tuple[str, ...]) -> None:
        """Find out which names are free in each network.

        The question wants an answer to all: one to this machine alone might reach another program of it that listens
        at the same port.
        """
        from zeroconf import Error, Zeroconf

        self._at, self.fault = addresses, ""
        for address in addresses:
            try:
                self._said.append(_Said(address, Zeroconf(interfaces=[address])))
            except (OSError, Error) as fault:
                self.fault = getattr(fault, "strerror", None) or str(fault) or type(fault).__name__
        wanted = [(said, name) for said in self._said for name in self._names]
        with ThreadPoolExecutor(max(1, len(wanted))) as asking:
            found = [one for one in asking.map(self._taken, wanted) if one is not None]
        self.taken = tuple({one.name: one for one in found}.values())
        names = {one.name for one in self.taken}
        self.live = tuple(name for name in self._names if name not in names) if self._said else ()
        if self._said:
            self.fault = ""

    def _taken(self, wanted: tuple[_Said, str]) -> TakenName | None:
        from zeroconf import AddressResolverIPv4, DNSQuestionType, Error  # type: ignore[attr-defined]

        said, name = wanted
        asked = AddressResolverIPv4(f"{name}.")
        with suppress(OSError, Error):
            asked.request(said.zeroconf, _ASKING_MS, DNSQuestionType.QM)
        own = {*self._at, *own_addresses()}
        others = [one for one in asked.parsed_addresses() if one not in own]
        return TakenName(name, others[0]) if others else None

    def _say_names(self) -> None:
        from zeroconf import Error, ServiceInfo

        for said in self._said:
            for name in self.live:
                label = f"{name.partition('.')[0]} {said.address.replace('.', '-')} {self._port}"
                info = ServiceInfo(
                    SERVICE,
                    f"{label[-_LONGEST_LABEL:].strip()}.{SERVICE}",
                    port=self._port,
                    addresses=[socket.inet_aton(said.address)],
                    server=f"{name}.",
                    properties={"path": "/"},
                )
                try:
                    said.zeroconf.register_service(info, cooperating_responders=True)
                except (OSError, Error) as fault:
                    self.fault = str(fault) or type(fault).__name__

    def _end(self) -> None:
        ended, self._said, self.live = self._said, [], ()
        with ThreadPoolExecutor(max(1, len(ended))) as ending:
            list(ending.map(lambda said: said.zeroconf.close(), ended))
