"""A process that answers: a line of JSON with a question comes in, one with the answer goes out.

Run as a file of its own; its first line says where modules are found and which of them answers. It ends with its input,
and by itself where an answer takes too long. Loading a library starts that time again: the first question waits for it.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
from contextlib import suppress
from importlib import import_module
from typing import Any

LOADING_S = 60.0
LONGEST_ANSWER_BYTES = 4_000_000


def left_something_running() -> bool:
    """Whether a calculation left a thread or a process behind."""
    if threading.active_count() > 1:
        return True
    if not hasattr(os, "WNOHANG"):
        return False
    try:
        os.waitpid(-1, os.WNOHANG)
    except ChildProcessError:
        return False
    return True


def show(traceback: str) -> None:
    """Print the traceback of a plugin's fault where the program prints its own."""
    print(traceback, file=sys.stderr, flush=True)


def end() -> None:
    """End at once, whatever threads are left."""
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    signal.raise_signal(signal.SIGTERM)


def main() -> None:
    """Answer until the input ends."""
    with suppress(AttributeError, ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    questions = os.fdopen(os.dup(0), "rb")
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.dup2(2, 1)  # what a plugin prints may not be taken for an answer
    process = os.getpid()
    asked: dict[str, Any] = json.loads(questions.readline())["asked"]
    sys.path[:] = asked["path"]
    from bevelbook.plugin.limits_here import CallClock, limit_memory

    clock = CallClock(os.open(os.devnull, os.O_WRONLY))
    clock.begin(LOADING_S)
    limit_memory(asked["most_bytes"], for_good=True)
    if asked["tracebacks"]:
        from bevelbook.declare.errors import PluginFault

        PluginFault.show_traceback = show
    module, _, name = asked["answering"].partition(":")

    def answer(held: dict[str, Any]) -> None:
        line = json.dumps(held, allow_nan=False, ensure_ascii=False).encode(errors="surrogatepass")
        if len(line) > asked["longest_answer_bytes"]:
            line = json.dumps({"number": held["number"], "is_too_long": True}).encode()
        answers.write(line + b"\n")
        answers.flush()

    answering = getattr(import_module(module), name)(asked["given"])
    sys.meta_path.insert(0, clock)
    clock.end()
    answer({"number": 0})
    for line in questions:
        question = json.loads(line)
        clock.begin(question["longest_s"])
        held = answering.answer(question["asked"])
        if os.getpid() != process:  # a copy of this process that a calculation made
            end()
        answer({**held, "number": question["number"], "is_last": held.get("is_last") or left_something_running()})
        clock.end()
    end()


if __name__ == "__main__":
    main()
