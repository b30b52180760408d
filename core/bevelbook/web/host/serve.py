"""Serve one database from the command line."""

from __future__ import annotations

import asyncio
import atexit
import errno
import gc
import logging
import os
import signal
import socket
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from types import FrameType
from typing import Any, Final, NamedTuple

from bevelbook.card.procedure import Procedure
from bevelbook.declare.errors import InputError
from bevelbook.declare.in_command import asked_again
from bevelbook.plugin.registry import Registry
from bevelbook.store.opened_to_read import check_is_ours
from bevelbook.web.host.copy_to_read import aside_words
from bevelbook.web.host.datasette_state import made_with, state_of
from bevelbook.web.host.found_at import FoundAt, found_at, names_of, opens_to_network
from bevelbook.web.host.private_datasette import stop_questions
from bevelbook.web.host.readonly import TeamDatabase
from bevelbook.web.pairing.host_names import OwnNames, as_address, host_names
from bevelbook.web.pairing.settings_folder import settings_folder
from bevelbook.web.pairing.who_may_write import WhoMayWrite

ENTERS_AT: Final = 8002
"""The port of 'bevelbook enter', which its phones know: 'bevelbook serve' leaves it free."""
_PORTS_TRIED: Final = 100
_EVERY_ADDRESS: Final = "0.0.0.0 stands for all that it has."
_STOPS_WITHIN_S: Final = 1
"""How long the answers under way are waited for."""
_ENDS_WITHIN_S: Final = 2
"""How long, once its names are taken back and its processes ended, anything at all is waited for."""
_CLOSES_WITHIN_S: Final = 0.3


def datasette_for(
    path: Path,
    registry: Registry,
    *,
    allow_sql: bool = True,
    entry: WhoMayWrite | None = None,
    procedure: Procedure | None = None,
) -> Any:
    """A Datasette over one bevelbook database, not started yet; with ``entry`` paired phones may write to it, at the
    bench by the team's own ``procedure`` where there is one.

    Raises DatabaseError for another file.
    """
    from datasette.app import Datasette

    from bevelbook.web.host.private_datasette import log_short_tracebacks

    check_is_ours(path)
    log_short_tracebacks()
    make = partial(
        Datasette,
        [str(path)],
        settings={"default_allow_sql": allow_sql, "suggest_facets": False, "allow_download": False},
        secret=entry.phones.secret() if entry else None,
    )
    return made_with(make, registry, entry, procedure)


class Served(NamedTuple):
    """A server that listens and does not answer yet; ``wanted_port`` is the port that it was to have."""

    datasette: Any
    found: FoundAt
    wanted_port: int

    @property
    def copied_words(self) -> str:
        """What is to be known of a book that is read from a copy; nothing where the file itself is read."""
        asides = (one.aside for one in self.datasette.databases.values() if isinstance(one, TeamDatabase))
        return next((aside_words(one.made_at) for one in asides if one is not None), "")

    @property
    def pages(self) -> str:
        """The path of the first page, the shelf."""
        return str(self.datasette.urls.instance())


def serve(
    path: Path,
    registry: Registry,
    *,
    host: str,
    port: int,
    names: OwnNames | None = None,
    allow_sql: bool = True,
    may_be_indexed: bool = False,
    asked: str = "serve",
) -> Served:
    """Listen, at the next free port where another program has that one. ``names`` are those that a person gave for this
    machine, ``asked`` is the command as it was typed. Raises DatabaseError, or InputError where the address cannot be
    had."""
    is_network = opens_to_network(host, "bevelbook serve", "bevelbook serve --host 0.0.0.0")
    named = names_of(path, names, is_network=is_network)
    datasette = datasette_for(path, registry, allow_sql=allow_sql)
    state = state_of(datasette)
    given = named.answered if as_address(host) else (*named.answered, host)
    state.own_names = host_names(given, is_network=is_network)
    state.is_for_this_computer = not is_network
    state.is_found_by_search = may_be_indexed
    state.settings = settings_folder()
    asyncio.run(datasette.invoke_startup())
    listening = listen_from(host, port, leave_out=(ENTERS_AT,), remedy=_other_port_words(asked, 0))
    return Served(datasette, found_at(listening, host, named, is_network=is_network), port)


def answer_until_stopped(datasette: Any, found: FoundAt) -> None:
    """Answer until a person or the system stops it; then nothing of it is left, in the network or on this computer."""
    from bevelbook.web.worker.calculators import end_calculations

    def end() -> None:
        for act in state_of(datasette).when_stopping:
            act()
        end_calculations(state_of(datasette).registry)
        found.end()

    try:
        run_until_stopped(datasette, found.listening, when_stopping=end)
    finally:
        end()


def run_until_stopped(
    datasette: Any, listening: socket.socket, *, when_stopping: Callable[[], None] | None = None
) -> None:
    """Answer what comes to a socket until a person stops it, or the system by SIGTERM; ``when_stopping`` is called
    before the answers under way are waited for, which takes a moment at most. Where something of this process does not
    end then, such as a thread in which SQLite works, the process ends all the same."""
    import uvicorn

    from bevelbook.drawing.process import PROCESS
    from bevelbook.web.host.visitors_sql import end_visitors_sql

    class Server(uvicorn.Server):
        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)  # of answers that are given up
            stop_questions(datasette)
            PROCESS.end()
            await asyncio.to_thread(end_visitors_sql)
            if when_stopping is not None:
                await asyncio.to_thread(when_stopping)
            at_the_latest = threading.Timer(_ENDS_WITHIN_S, _end_process)
            at_the_latest.daemon = True
            at_the_latest.start()
            await super().shutdown(sockets)

    threading.Thread(target=_get_ready, daemon=True).start()
    atexit.register(gc.freeze)  # to take all that is loaded apart at the end takes a second
    server = Server(
        uvicorn.Config(
            datasette.app(),
            log_level="warning",
            lifespan="on",
            server_header=False,
            timeout_graceful_shutdown=_STOPS_WITHIN_S,
        )
    )
    with suppress(KeyboardInterrupt), _terminated_as_interrupted():
        server.run(sockets=[listening])


def _end_process() -> None:
    """End it at once, as one that was stopped; Python would wait for every thread."""
    from bevelbook.drawing.process import PROCESS

    closing = threading.Thread(target=PROCESS.close, daemon=True)
    closing.start()
    closing.join(_CLOSES_WITHIN_S)
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError):
            stream.flush()
    os._exit(0)


@contextmanager
def _terminated_as_interrupted() -> Iterator[None]:
    """Have SIGTERM end a server as Ctrl+C does; uvicorn raises a signal again once it has stopped."""

    def interrupt(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _get_ready() -> None:
    """Start what draws charts, a second's work, before a page waits for it."""
    from bevelbook.drawing.faults import CannotDraw
    from bevelbook.drawing.process import PROCESS

    with suppress(CannotDraw):  # the page of a chart says so
        PROCESS.start()


def next_port_words(host: str, port: int, asked: str) -> str:
    """What to do where another program has a port: the command as it was typed, at the next one that is free now."""
    for one in range(port + 1, min(port + _PORTS_TRIED, 65536)):
        with suppress(OSError), _socket_at(host, one):
            return _other_port_words(asked, one)
    return _other_port_words(asked, 0)


def _other_port_words(asked: str, port: int) -> str:
    """Port 0 takes any that is free."""
    again = asked_again(asked, *f"bevelbook --port {port}".split()[1:])
    return f"Another program may use the port. Choose another: '{again}'."


def listen(host: str, port: int, remedy: Callable[[], str]) -> socket.socket:
    """A socket at that address. Raises InputError with that remedy where it cannot be had."""
    try:
        return _socket_at(host, port)
    except OSError as fault:
        raise _cannot_listen(host, port, fault, remedy()) from fault


def listen_from(host: str, port: int, *, leave_out: Iterable[int], remedy: str) -> socket.socket:
    """A socket at that port, or where it is in use at the next one that is free and not left out. Raises InputError
    where there is none, or the address cannot be had at all."""
    further = (one for one in range(port + 1, min(port + _PORTS_TRIED, 65536)) if one not in leave_out)
    wanted: OSError | None = None
    for one in (port, *further):
        try:
            return _socket_at(host, one)
        except OSError as fault:
            wanted = wanted or fault
            if fault.errno != errno.EADDRINUSE:
                break
    assert wanted is not None
    raise _cannot_listen(host, port, wanted, remedy) from wanted


def _socket_at(host: str, port: int) -> socket.socket:
    family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
    both = host == "::" and socket.has_dualstack_ipv6()
    return socket.create_server((host, port), family=family, dualstack_ipv6=both)


def _cannot_listen(host: str, port: int, fault: OSError, remedy: str) -> InputError:
    why = (fault.strerror or str(fault)).partition(" (while ")[0]
    if fault.errno == errno.EADDRNOTAVAIL:
        remedy = f"This computer does not have that address now. {_EVERY_ADDRESS}"
    elif fault.errno == errno.EACCES:
        remedy = "The system keeps that port for itself. Choose one of 1024 or more."
    return InputError("cannot listen there", code="address_taken", found=f"{host}:{port} ({why})", remedy=remedy)
