"""Calls that do more than work something out, and some that only look so. Run as a file: prints what was seen of each.

What is watched cannot be unwatched in a process, so this one is only for that.
"""

import json
import os
import pathlib
import random
import secrets
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Callable
from contextlib import suppress
from datetime import date, datetime
from time import time as now

AT = str(pathlib.Path(tempfile.gettempdir()) / "bevelbook-never-written")
CALLS: dict[str, tuple[Callable[[], object], ...]] = {
    "clock": (
        lambda: now(),
        lambda: datetime.now(),
        lambda: date.today(),
        lambda: datetime.today(),
        lambda: time.monotonic(),
        lambda: time.perf_counter_ns(),
        lambda: time.localtime(),
        lambda: time.strftime("%Y"),
        lambda: uuid.uuid1(),
    ),
    "chance": (
        lambda: random.random(),
        lambda: random.gauss(0, 1),
        lambda: random.choice("ab"),
        lambda: random.Random().random(),
        lambda: random.seed(),
        lambda: random.SystemRandom().random(),
        lambda: os.urandom(3),
        lambda: secrets.token_hex(3),
        lambda: uuid.uuid4(),
    ),
    "writes": (
        lambda: open(AT, "w"),  # noqa: PTH123, SIM115
        lambda: pathlib.Path(AT).write_text("6"),
        lambda: pathlib.Path(AT).mkdir(),
        lambda: pathlib.Path(AT).unlink(),
        lambda: os.open(AT, os.O_CREAT | os.O_WRONLY),
    ),
    "database": (lambda: sqlite3.connect(AT),),
    "process": (lambda: subprocess.run(["true"], check=False), lambda: os.system("true"), lambda: os.fork()),
    "network": (lambda: socket.create_connection(("127.0.0.1", 1)), lambda: socket.socket()),
    "thread": (lambda: threading.Thread(target=str).start(),),
    "prints": (lambda: print("6"), lambda: sys.stdout.write("6")),
    "nothing": (
        lambda: random.Random(1).random(),
        lambda: pathlib.Path(__file__).read_text(encoding="utf-8"),
        lambda: sqlite3.connect(":memory:").close(),
        lambda: open(os.devnull, "w").close(),  # noqa: PTH123
        lambda: time.localtime(3),
        lambda: time.strftime("%Y", (2026, 5, 3, 0, 0, 0, 0, 0, 0)),
        lambda: date(2026, 5, 3).isoformat(),
    ),
}


def main() -> None:
    """Make each call watched."""
    from bevelbook.examining import purity

    purity.install()
    own_output, sys.stdout = sys.stdout, sys.stderr
    seen: dict[str, list[list[str]]] = {}
    for code, calls in CALLS.items():
        seen[code] = []
        for call in calls:
            watch = purity.Watch(lambda file: file == __file__, lambda part: None)
            with suppress(OSError), watch.during("a call"):
                call()
            seen[code].append(sorted({one.code for one in watch.seen}))
    json.dump({"seen": seen, "written": pathlib.Path(AT).exists()}, own_output)


if __name__ == "__main__":
    main()
