"""Serve one database from the command line."""

from __future__ import annotations

import asyncio
import socket
import threading
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

import click

from bevelbook.card.procedure import Procedure
from bevelbook.declare.errors import InputError
from bevelbook.declare.printable import printable
from bevelbook.plugin.registry import Registry
from bevelbook.store.opening import check_is_ours
from bevelbook.web.host.datasette_state import made_with
from bevelbook.web.pairing.who_may_write import WhoMayWrite


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


def serve(path: Path, registry: Registry, *, host: str, port: int, allow_sql: bool, open_browser: bool) -> None:
    """Serve until stopped. Raises DatabaseError, or InputError where the address cannot be had."""
    datasette = datasette_for(path, registry, allow_sql=allow_sql)
    asyncio.run(datasette.invoke_startup())
    listening = listen(host, port, "Another program may use the port. Choose another: 'bevelbook serve --port 8123'.")
    address = f"{server_address(host, listening)}{datasette.urls.instance()}"
    click.echo(printable(f"The shelf of {path.name} is at {address} (read-only). Ctrl+C stops it."))
    if open_browser:
        import webbrowser

        webbrowser.open(address)
    run_until_stopped(datasette, listening)


def server_address(host: str, listening: socket.socket) -> str:
    """Where a server is found under a name or address of its machine: ``http://127.0.0.1:8001``."""
    return f"http://{f'[{host}]' if ':' in host else host}:{listening.getsockname()[1]}"


def run_until_stopped(
    datasette: Any, listening: socket.socket, *, when_stopping: Callable[[], None] | None = None
) -> None:
    """Answer what comes to a socket until a person stops it; ``when_stopping`` is called before the answers under way
    are waited for."""
    import uvicorn

    class Server(uvicorn.Server):
        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            if when_stopping is not None:
                await asyncio.to_thread(when_stopping)
            await super().shutdown(sockets)

    threading.Thread(target=_get_ready, daemon=True).start()
    server = Server(uvicorn.Config(datasette.app(), log_level="warning", lifespan="on"))
    try:
        server.run(sockets=[listening])
    except KeyboardInterrupt:
        click.echo("Stopped.")


def _get_ready() -> None:
    """Load what trends of weighings need and start what draws charts, a second's work, before a page waits for it."""
    import scipy.special  # noqa: F401

    from bevelbook.drawing.faults import CannotDraw
    from bevelbook.drawing.process import PROCESS

    with suppress(CannotDraw):  # the page of a chart says so
        PROCESS.start()


def listen(host: str, port: int, remedy: str) -> socket.socket:
    """A socket at that address. Raises InputError with that remedy where it cannot be had."""
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        both = host == "::" and socket.has_dualstack_ipv6()
        return socket.create_server((host, port), family=family, dualstack_ipv6=both)
    except OSError as fault:
        why = (fault.strerror or str(fault)).partition(" (while ")[0]
        raise InputError(
            "cannot listen there",
            code="address_taken",
            found=f"{host}:{port} ({why})",
            remedy=remedy,
        ) from fault
