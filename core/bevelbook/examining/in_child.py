"""Ask a process to examine plugins. What ends it, or takes too long there, is a flaw; another goes on with the rest."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from bevelbook.declare.errors import DatabaseError, PluginFault
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.examining import child
from bevelbook.examining.declared_lines import DeclaredLines
from bevelbook.examining.flaw import TOO_SLOW, Flaw
from bevelbook.examining.looking import LookedAt, Thorough
from bevelbook.examining.parts import BETWEEN, IMPORT, LONG
from bevelbook.examining.target import Target
from bevelbook.plugin.guard import one_line

LONGEST_S: Final = 2.0
"""The longest that one call may take. Our own figure, as all here."""
IMPORT_S: Final = 5.0
ALL_S: Final = 10.0
THOROUGH_S: Final = 40.0
"""The longest that all of one plugin may take, to be loaded, and where all that it offers is tried."""
LOADING_S: Final = 60.0
MOST_BYTES: Final = 1 << 30
"""The address space of the process, of which the libraries take a third."""
_ONE_THREAD: Final = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
_PATIENCE_S: Final = 5.0
"""How much later a process that does not end itself is ended."""
FOR_LOADING: Final = Thorough(all=False, database=None)
_MOST_ENDS: Final = 8
"""The times that a plugin may end the process before the rest of it is given up."""
_FRAME: Final = late_pattern(r'\s*File "([^"]+)", line (\d+) in ')


class _Ended:
    """How far a process came that ended in the middle of a plugin."""

    def __init__(self) -> None:
        self.at: int | None = None
        self.part = IMPORT
        self.calculator: str | None = None
        self.in_time = True
        self.frames: list[tuple[str, int]] = []


def looked_at(
    targets: Sequence[Target],
    beside: Sequence[Target] = (),
    thorough: Thorough = FOR_LOADING,
) -> list[LookedAt]:
    """What is found about each plugin; ``beside`` are others that are loaded with it.

    One process takes all of them, and another goes on where one is ended.
    """
    found: dict[int, LookedAt] = {}
    passed_over: dict[int, list[str]] = {}
    ended_over: dict[int, list[Flaw]] = {}
    while left := [number for number in range(len(targets)) if number not in found]:
        answers, ended = _asked(targets, left, beside, passed_over, thorough)
        found |= answers
        if ended is None:
            break
        at = left[0] if ended.at is None else ended.at
        flaws = ended_over.setdefault(at, [])
        flaws.append(_flaw_of(ended, targets[at]))
        if ended.calculator is None or len(flaws) >= _MOST_ENDS:
            found[at] = LookedAt()
        else:
            passed_over.setdefault(at, []).append(ended.calculator)
    for number, flaws in ended_over.items():
        found[number].flaws += flaws
        found[number].calculators += passed_over.get(number, [])
    return [found[number] for number in range(len(targets))]


def _asked(
    targets: Sequence[Target],
    left: Sequence[int],
    beside: Sequence[Target],
    passed_over: dict[int, list[str]],
    thorough: Thorough,
) -> tuple[dict[int, LookedAt], _Ended | None]:
    """What one process answers, by number, and how far it came where it ended before the last."""
    asked = {
        "path": sys.path,
        "targets": [targets[number]._asdict() for number in left],
        "beside": [one._asdict() for one in beside],
        "passed_over": {f"{place}": passed_over.get(number, []) for place, number in enumerate(left)},
        "thorough": thorough,
        "longest_s": LONGEST_S,
        "import_s": IMPORT_S,
        "all_s": THOROUGH_S if thorough["all"] else ALL_S,
        "loading_s": LOADING_S,
        "most_bytes": MOST_BYTES,
        "tracebacks": PluginFault.show_traceback is not None,
    }
    try:
        process = subprocess.Popen(
            [sys.executable, "-P", child.__file__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**_ONE_THREAD, **os.environ},
            start_new_session=True,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    except OSError as fault:
        raise DatabaseError(
            f"no process to try plugins in can be started here: {one_line(fault)}", code="no_process"
        ) from fault
    stopped = threading.Timer(LOADING_S + len(left) * THOROUGH_S + _PATIENCE_S, _kill, [process])
    stopped.daemon = True
    stopped.start()
    found: dict[int, LookedAt] = {}
    ended = _Ended()
    try:
        with suppress(OSError):
            process.stdin.write(json.dumps(asked).encode() + b"\n")  # type: ignore[union-attr]
            process.stdin.close()  # type: ignore[union-attr]
        for line in process.stdout:  # type: ignore[union-attr]
            _take(line.decode(errors="replace"), left, found, ended)
    finally:
        stopped.cancel()
        _kill(process)
        process.wait()
        process.stdout.close()  # type: ignore[union-attr]
    return found, ended if len(found) < len(left) else None


def _take(line: str, left: Sequence[int], found: dict[int, LookedAt], ended: _Ended) -> None:
    """Take one line of the process: a part that it begins, an answer, or where it was stopped."""
    if frame := _FRAME.match(line):
        ended.frames.append((frame[1], int(frame[2])))
        return
    if line.startswith("Timeout"):
        ended.in_time = False
        return
    try:
        held: dict[str, Any] = json.loads(line)
        if "traceback" in held:
            if PluginFault.show_traceback is not None:
                PluginFault.show_traceback(f"{held['traceback']}")
            return
        number = left[held["at"]]
    except (ValueError, TypeError, LookupError):
        return
    if "done" in held:
        looked = found[number] = LookedAt()
        looked.calculators = held["done"]["calculators"]
        looked.flaws = [Flaw.from_dict(one) for one in held["done"]["flaws"]]
        place = held["at"] + 1
        ended.at, ended.part, ended.calculator = (left[place] if place < len(left) else None), IMPORT, None
    else:
        ended.at, ended.part, ended.calculator = number, held["part"], held["calculator"]


def _flaw_of(ended: _Ended, target: Target) -> Flaw:
    """The serious flaw of what ended the process."""
    own = next((frame for frame in ended.frames if target.is_own(frame[0])), None)
    file, line = own or (target.files[0] if target.files else target.file, None)
    if own is None and ended.calculator is not None:
        place = DeclaredLines([Path(one) for one in target.files]).calculator(ended.calculator)
        file, line = place.file or file, place.line
    whose = f"calculator {ended.calculator}: " if ended.calculator else ""
    if ended.in_time:
        code, how, remedy = "ends", "ended the process in the middle of its work", "Leave out what ends the program."
    else:
        seconds = ALL_S if ended.part == BETWEEN else IMPORT_S if ended.part in LONG else LONGEST_S
        code, how = TOO_SLOW, f"took over {seconds:g} s and was stopped"
        remedy = (
            "Have it come to an end soon: people wait for it. If the computer was busy, it is tried again in an hour."
        )
    return Flaw(code, f"{whose}{ended.part} {how}", remedy, file, line, True, ended.calculator)


def _kill(process: subprocess.Popen[bytes]) -> None:
    """End a process, and those that it began, where the platform keeps them together."""
    if hasattr(os, "killpg"):
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, signal.SIGKILL)
    process.kill()
