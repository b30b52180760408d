"""Exports that come back changed, tables for a calculator, and JSON that any program may have written.

What is said of an export and what its files hold is changed at any place, with sizes and hashes put right in half of
the cases, so that the change itself is met. Each is read whole or refused in words; a database is then sound.
"""

from __future__ import annotations

import hashlib
import json
import random
import shutil
from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Any, Final

from trials.of_commands import run, sound, team
from trials.of_yaml import changed

from bevelbook.declare.errors import BevelbookError
from bevelbook.interchange.read_export import read_export
from bevelbook.kept_json import object_in, texts_in
from bevelbook.meeting.bounded_json import JsonRefused, bounded_json

CELLS: Final = (
    *(
        "",
        "x",
        "-1",
        "0",
        "1e999",
        "nan",
        "INF",
        "NaN",
        "9" * 30,
        "1.5",
        "1_0",
        "'",
        "'=1",
        "=1",
        "\x00",
        "\u202e",
        '"',
    ),
    *("2026-99-99", "2026-05-03", "rear-a", "ana", "{", "[]", "null", "1" * 5000, "\ufffd", "a\nb", "٣", " 1", "0x10"),
)
TEXTS: Final = (
    *("[" * 20_000, '{"a":' * 20_000, "nan", "Infinity", "1" * 5000, '"\\ud800"', '{"a":1,"a":2}', "1e999", "", "\x00"),
    *("[1,2", "{}", "[]", "null", "true", '"x"', "-0", "1.0e5", "\ufeff{}", '{"a": [{"b": null}]}', "'a'", "[,]", "//"),
)


@cache
def export() -> Path:
    """An export of a small database."""
    folder = team() / "export"
    code, said = run(["--db", str(team() / "team.db"), "export", str(folder)])
    assert code == 0, said
    return folder


@cache
def described() -> dict[str, Any]:
    found = json.loads((export() / "datapackage.json").read_text(encoding="utf-8"))
    assert isinstance(found, dict)
    return found


def case(source: random.Random, folder: Path) -> str:
    """One text or one export, read."""
    draw = source.random()
    if draw < 0.6:
        return text_case(source)
    if draw < 0.75:
        return table_case(source, folder)
    return export_case(source, folder)


def text_case(source: random.Random) -> str:
    """A text of JSON, torn or odd."""
    text = source.choice(TEXTS) if source.random() < 0.3 else dumped(changed(source, deepcopy(small())))
    for _ in range(source.choice((0, 0, 1, 3))):
        at = source.randrange(len(text) + 1)
        text = text[:at] + source.choice('[]{}:,"\\0e-.nx\ud800\x00') + text[at + source.randrange(2) :]
    held, listed = object_in(text), texts_in(text)
    assert held is None or listed is None
    try:
        found = bounded_json(text, 100_000)
    except JsonRefused:
        return "json refused"
    again = bounded_json(json.dumps(found), 10**6)
    assert again == found, "not the same again"
    return "json read"


def dumped(tree: Any) -> str:
    """A tree as JSON; a number that Python does not write out is a text."""
    try:
        return json.dumps(tree, default=str)
    except ValueError:
        return "1" * 5000


def refuse_constant(name: str) -> None:
    raise AssertionError(f"{name} in an answer for programs")


def small() -> dict[str, Any]:
    return {"a": [1, 2.5, None, True, "x"], "b": {"c": {"d": [{}, []]}}, "dry_mass_g": 12.4, "day": "2026-05-03"}


def table_case(source: random.Random, folder: Path) -> str:
    """A table for a calculator, with odd headings and cells."""
    headings = ["dry_mass_g", "oil mass [mg]", "reading", "who", "scale_step_g", "x"]
    lines = [headings[: source.randrange(2, 7)]]
    odd = ("12.4", "1,86", "n/a", "-", "1.500", "12.4 ± 0.02", *CELLS)
    lines += [[source.choice(odd) for _ in lines[0]] for _ in range(source.randrange(5))]
    mark = source.choice((",", ";", "\t"))
    (folder / "t.csv").write_text("\n".join(mark.join(line) for line in lines), "utf-8", "surrogatepass")
    words = [
        "calc",
        "fill-target",
        "--rows",
        str(folder / "t.csv"),
        *source.choice((["--json"], [], ["--oil-mass", "1.8"])),
    ]
    code, said = run(words)
    assert code in (0, 1, 2), f"ended with {code!r}: {words}: {said[-500:]}"
    if "--json" in words and code in (0, 1):
        for line in said.splitlines():
            if line.startswith("{"):
                json.loads(line, parse_constant=refuse_constant)
    return f"rows {code}"


def export_case(source: random.Random, folder: Path) -> str:
    """An export with something changed; now and then a database is made of it."""
    there = folder / "export"
    shutil.copytree(export(), there)
    is_right = source.random() < 0.6
    for _ in range(source.choice((1, 1, 2))):
        if source.random() < 0.4:
            said = changed(source, json.loads((there / "datapackage.json").read_text("utf-8")))
            (there / "datapackage.json").write_text(dumped(said), "utf-8", "surrogatepass")
            break
        path = source.choice(sorted(there.glob("*.csv")))
        path.write_bytes(spoilt(source, path.read_bytes()))
        if is_right:
            said = json.loads((there / "datapackage.json").read_text("utf-8"))
            for one in said["resources"]:
                data = (there / one["path"]).read_bytes()
                one["bytes"], one["hash"] = len(data), f"sha256:{hashlib.sha256(data).hexdigest()}"
                one["rows"] = max(0, data.count(b"\n") - 1)
            (there / "datapackage.json").write_text(json.dumps(said), "utf-8")
    if source.random() < 0.1:
        code, said_of = run(["--db", str(folder / "new.db"), "new", "--from", str(there)])
        assert code in (0, 1, 2), f"ended with {code!r}: {said_of[-700:]}"
        sound(folder / "new.db", ["new", "--from"])
        return f"new --from {code}"
    aside = folder / "aside.db"
    try:
        read_export(there, aside)
    except BevelbookError as refused:
        assert refused.code, "without a code"
        assert len(str(refused)) < 4000, f"{len(str(refused))} letters: {str(refused)[:400]}"
        assert not aside.exists(), "a file is left of a refused export"
        return f"export {refused.code}"
    sound(aside, ["read_export"])
    return "export read"


def spoilt(source: random.Random, data: bytes) -> bytes:
    """A file of an export with cells, lines or bytes changed."""
    lines = data.decode("utf-8", "surrogateescape").split("\n")
    at = source.randrange(len(lines))
    draw = source.randrange(7)
    if draw < 3:
        cells = lines[at].split(",")
        cells[source.randrange(len(cells))] = source.choice(CELLS)
        lines[at] = ",".join(cells)
    elif draw == 3:
        lines.insert(at, lines[source.randrange(len(lines))])
    elif draw == 4:
        del lines[at]
    elif draw == 5:
        held = bytearray(data or b"x")
        held[source.randrange(len(held))] ^= 1 << source.randrange(8)
        return bytes(held)
    else:
        return data + source.choice((b"\xff", b"\x00", b'"', b",\n", b"x" * 2_000, b"\r\n"))
    return "\n".join(lines).encode("utf-8", "surrogatepass")
