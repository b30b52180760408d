"""Processes that serve a database, and a reverse proxy in front of them: nginx where it is installed, else a small one
of our own that gives each connection to the next process."""

from __future__ import annotations

import os
import shlex
import shutil
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from itertools import cycle
from pathlib import Path
from time import monotonic, sleep
from typing import NamedTuple

from bevelbook.manual.serving_many import PROCESS, PROXY

PATIENCE_S = 60.0
NGINX = shutil.which("nginx") or shutil.which("/usr/sbin/nginx")


class Behind(NamedTuple):
    """The ports of the processes behind a proxy."""

    ports: Sequence[int]


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return int(listening.getsockname()[1])


def _environment(folder: Path) -> dict[str, str]:
    beside = str(Path(sys.executable).parent)
    return {**os.environ, "PATH": f"{beside}:{os.environ['PATH']}", "XDG_CONFIG_HOME": str(folder / "settings")}


def ended(command: Sequence[str], folder: Path) -> None:
    """Run a command to its end."""
    subprocess.run(command, check=True, env=_environment(folder), stdout=subprocess.DEVNULL)


@contextmanager
def serving(command: Sequence[str], folder: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A process that serves until the end."""
    process = subprocess.Popen(command, env=_environment(folder), cwd=folder, stdout=subprocess.DEVNULL)
    try:
        yield process
    finally:
        process.terminate()
        process.wait(PATIENCE_S)


def reached(port: int) -> None:
    """Wait until something listens at a port."""
    until = monotonic() + PATIENCE_S
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
            return
        except OSError:
            if monotonic() > until:
                raise
            sleep(0.05)


@contextmanager
def datasettes_of(path: Path, count: int, folder: Path, base: str = "/") -> Iterator[list[int]]:
    """So many processes over one immutable file, started as the manual says; their ports."""
    with ExitStack() as running:
        ports = []
        for _ in range(count):
            ports.append(free_port())
            command = (
                PROCESS.replace("\\\n", "")
                .replace("edition.db", shlex.quote(str(path)))
                .replace("8101", str(ports[-1]))
            )
            running.enter_context(serving(shlex.split(command.replace("/diffs/", base)), folder))
        for port in ports:
            reached(port)
        yield ports


@contextmanager
def proxied(behind: Behind, folder: Path, path: str = "/") -> Iterator[int]:
    """A reverse proxy in front of them; its port."""
    port = free_port()
    with _nginx(behind, folder, port, path) if NGINX else _our_own(behind, port):
        reached(port)
        yield port


@contextmanager
def _nginx(behind: Behind, folder: Path, port: int, path: str) -> Iterator[None]:
    """nginx with the configuration of the manual, its ports replaced."""
    assert NGINX is not None
    servers = "".join(f"    server 127.0.0.1:{one};\n" for one in behind.ports)
    shown = PROXY.replace("    server 127.0.0.1:8101;\n    server 127.0.0.1:8102;\n", servers)
    shown = shown.replace("listen 8100", f"listen 127.0.0.1:{port}").replace("location /diffs/", f"location {path}")
    assert shown.count(str(port)) == 1
    own = folder / "nginx"
    own.mkdir(exist_ok=True)
    kept = "".join(f"{what}_temp_path {own / what};\n" for what in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi"))
    (own / "nginx.conf").write_text(
        f"daemon off;\npid {own / 'pid'};\nerror_log {own / 'error.log'};\nevents {{}}\n"
        f"http {{\naccess_log off;\n{kept}{shown}}}\n"
    )
    with serving([NGINX, "-p", str(own), "-e", str(own / "error.log"), "-c", str(own / "nginx.conf")], folder):
        yield


@contextmanager
def _our_own(behind: Behind, port: int) -> Iterator[None]:
    turns = cycle(behind.ports)
    with socket.create_server(("127.0.0.1", port)) as listening, ThreadPoolExecutor(32) as handing_on:

        def take() -> None:
            with suppress(OSError):
                while True:
                    came, _ = listening.accept()
                    handing_on.submit(_connected, came, next(turns))

        taking = threading.Thread(target=take)
        taking.start()
        yield
        listening.shutdown(socket.SHUT_RDWR)
        taking.join()


def _connected(came: socket.socket, port: int) -> None:
    with came, socket.create_connection(("127.0.0.1", port)) as there:
        answering = threading.Thread(target=_hand_on, args=(there, came))
        answering.start()
        _hand_on(came, there)
        answering.join()


def _hand_on(source: socket.socket, target: socket.socket) -> None:
    with suppress(OSError):
        while piece := source.recv(65_536):
            target.sendall(piece)
    with suppress(OSError):
        target.shutdown(socket.SHUT_WR)
