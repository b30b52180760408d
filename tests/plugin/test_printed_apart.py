"""What plugins print never comes into what the program prints. All data are invented."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from pathlib import Path
from typing import Final

import pytest
from failing_plugins import NOTHING_FOUND, plugin

from bevelbook.examining.outcomes import keep_outcome, version_of
from bevelbook.examining.target import target_of
from bevelbook.plugin import printed_apart
from bevelbook.plugin.guard import CodeOwner, call
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.printed_apart import keep_apart, own_output

NOISE: Final = """
import atexit, ctypes, os, subprocess, sys, threading
from sys import stdout as held

def noise(where):
    print("print", where)
    sys.stdout.write(f"write {where}\\n")
    held.write(f"held {where}\\n")
    sys.stdout.flush()
    sys.__stdout__.write(f"first {where}\\n")
    sys.__stdout__.flush()
    os.write(1, f"number {where}\\n".encode())
    subprocess.run([sys.executable, "-S", "-E", "-c", f"print('child {where}')"], check=True)
    if os.name == "posix":
        library = ctypes.CDLL(None)
        library.puts(f"library {where}".encode())
        library.fflush(None)
    thread = threading.Thread(target=print, args=(f"thread {where}",))
    thread.start()
    thread.join()

def take_over():
    sys.stdout = open(os.devnull, "w")
    if os.name == "posix":
        os.fork()

noise("import")
atexit.register(print, "end")
"""
WAYS: Final = ("print", "write", "held", "first", "number", "child", "thread")


def test_json_stays_json_whatever_a_plugin_prints_and_however(tmp_path: Path) -> None:
    text = plugin(
        "bad",
        compute="noise('compute'); take_over(); return Found(double_g=1.0, word='even')",
        offers="noise('hook'); return (CALCULATOR,)",
    )
    (tmp_path / "bad.py").write_text(NOISE + text, encoding="utf-8")
    keep_outcome(version_of(target_of(Origin("bad", str(tmp_path / "bad.py")))), NOTHING_FOUND)
    command = (sys.executable, "-c", "from bevelbook.cli import main; main()")
    words = ("--plugins", str(tmp_path), "calc", "bad", "--mass", "3 g", "--json")
    done = subprocess.run((*command, *words), capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["outputs"]["double_g"] == 1.0
    printed = done.stderr.splitlines()
    assert {f"{way} {where}" for way in WAYS for where in ("import", "hook", "compute")} <= set(printed)
    assert printed[-1] == "end", "also what runs after the program"


def test_only_the_thread_of_the_program_prints_there_and_only_outside_of_plugins(
    capsys: pytest.CaptureFixture[str],
) -> None:
    before, there, go_on = sys.stdout, threading.Event(), threading.Event()

    def meanwhile() -> None:
        print("thread")
        there.set()
        go_on.wait()
        call(CodeOwner("other"), "compute", print, "plugin in a thread", taken=lambda one: one)

    with own_output():
        print("before any plugin")
        keep_apart()
        other = threading.Thread(target=meanwhile)
        other.start()
        there.wait()

        def printing() -> None:
            go_on.set()
            other.join()
            print("plugin")

        call(CodeOwner("one"), "compute", printing, taken=lambda one: one)
        with pytest.raises(KeyboardInterrupt):
            call(CodeOwner("one"), "compute", _interrupted, taken=lambda one: one)
        print("after")
    assert sys.stdout is before
    assert printed_apart.own_output_here() is None
    out, err = capsys.readouterr()
    assert out.split("\n") == ["before any plugin", "after", ""]
    assert sorted(err.split("\n")) == ["", "plugin", "plugin in a thread", "thread"]


def _interrupted() -> None:
    raise KeyboardInterrupt
