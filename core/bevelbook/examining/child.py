"""The process that examines plugins: it says each part that it is about to call, and then what it found.

Run as a file of its own. A call that takes too long ends the process, after its lines were written where the answers
go; so does whatever else a plugin does to end it.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from contextlib import suppress
from typing import Any


def main() -> None:
    """Examine what the first line of the input asks for."""
    with suppress(AttributeError, ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    asked: dict[str, Any] = json.loads(sys.stdin.buffer.readline())
    answers = os.fdopen(os.dup(1), "wb", buffering=0)
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nowhere, stream)
    sys.path[:] = asked["path"]
    from bevelbook.plugin.limits_here import CallClock, limit_memory

    clock = CallClock(answers)
    clock.begin_all(asked["loading_s"], asked["loading_s"])

    def tell(**held: Any) -> None:
        answers.write(json.dumps(held).encode(errors="surrogatepass") + b"\n")

    from bevelbook.declare.errors import PluginFault
    from bevelbook.examining import purity
    from bevelbook.examining.looking import as_answer, look_at
    from bevelbook.examining.parts import BETWEEN, LONG
    from bevelbook.examining.target import Target

    targets, beside = ([Target.from_held(one) for one in asked[name]] for name in ("targets", "beside"))
    if asked["tracebacks"]:
        PluginFault.show_traceback = lambda text: tell(traceback=text)
    purity.install()
    limit_memory(asked["most_bytes"], for_good=False)
    sys.meta_path.insert(0, clock)
    process = os.getpid()
    for number, target in enumerate(targets):
        clock.begin_all(asked["all_s"], asked["longest_s"])

        def begun(part: str, calculator: str | None, number: int = number) -> None:
            tell(at=number, part=part, calculator=calculator)
            clock.begin(asked["all_s"] if part == BETWEEN else asked["import_s" if part in LONG else "longest_s"])

        looked = look_at(target, beside, asked["passed_over"].get(str(number), ()), begun, asked["thorough"])
        if os.getpid() != process:
            signal.raise_signal(signal.SIGTERM)
        clock.end()
        tell(at=number, done=as_answer(looked))
    os._exit(0)


if __name__ == "__main__":
    main()
