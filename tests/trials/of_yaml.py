"""Profiles, procedures and packing lists: files of YAML with anything in any place of them.

Each is taken as it was typed, or refused with file, line and what to write instead. Values are put into the place of
each other in a valid file; texts are torn; and there is what YAML is known to be attacked with.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Any, Final, NamedTuple

import yaml

from bevelbook.card.procedure import read_procedure
from bevelbook.declare.errors import InputError
from bevelbook.notes.profiles import read_profile
from bevelbook.planning.packing_list import packed, read_packing_list

PROFILE: Final = """
title: "Our sheet"
about: "What stands above it."
columns: {"Gewicht leer": "dry_mass_g", "Laune": "ignore", "Oel": "fluid"}
units: {track_temp_c: "°F", dry_mass_g: "g"}
words: {grip: {"griffig": "high"}}
months: {"Februar": 2}
set: {diff: "K-01"}
split: {at: "/", into: [front, rear], columns: ["Oel"], alone: both, diffs: {front: "F-03", rear: "R-07"}}
options: {decimal: ",", date_order: "dmy", temp_unit: "C", date_base: 1904, year: 2024, encoding: "cp1252",
  delimiter: ";", header_line: 3, lines: "3-90", as_above: ["diff"], transpose: no, allow_out_of_range: [dry_mass_g],
  accept_map: yes, sheet: "S", sheet_as_diff: no}
"""
PROCEDURE: Final = """
title: "Our way"
status: "ours"
cautions: ["scope", "Mind the cat."]
steps:
  - {key: "weigh-dry", title: "Weigh", for: ["new", "rebuild"], when: "gears are new", screen: "weigh-dry", waits: no,
     do: "Put it on.", check: "As before.", write_down: ["builds.dry_mass_g", "colour of the tray"],
     calculators: ["fill-target"], cautions: ["knife"]}
  - {key: "rest", title: "Rest", waits: yes, do: "Wait."}
"""
PACKING: Final = """
title: "What we pack"
lists:
  - title: "Diffs"
    from_plan: ["diffs", "oils", "parts", "scale"]
    things: ["towel", {what: "LiPo packs", cautions: ["lipo", "Count them."]}]
  - {title: "Tools", things: ["knife"]}
"""


class Read(NamedTuple):
    """A kind of file: a valid one, and how it is read and used."""

    text: str
    read: Callable[[Path], object]


def _used(path: Path) -> object:
    return packed(read_packing_list(path), {"diffs": ["rear-a"]})


KINDS: Final = (Read(PROFILE, read_profile), Read(PROCEDURE, read_procedure), Read(PACKING, _used))
ODD: Final[tuple[Any, ...]] = (
    *(None, True, False, 0, -1, 1, 2, 1e308, float("inf"), float("nan"), 10**5000, 12, "", " ", "no", "~", "13:37"),
    *(
        [],
        {},
        [[]],
        [None],
        {"a": None},
        {None: 1},
        {1: 2},
        {True: "x"},
        ["x", "x"],
        "2026-99-99",
        "2026-05-03",
        "\u202e",
    ),
    *(
        "x" * 5000,
        "é" * 300,
        "<<",
        "=",
        "\ud7ff\U0001f697",
        "zlib_codec",
        "rot13",
        "9" * 5000,
        "a\nb",
        "\x85",
        "1-",
        "3-2",
    ),
)
TEXTS: Final = (
    *("[" * 20_000, "{" * 20_000, "- " * 20_000, "a: " * 5_000, "? " * 5_000, "&a [*a]", "&a {<<: *a}", "a: &x [*x]"),
    *("!!python/object/apply:os.system ['true']", "!!binary aGk=", "!!set {a}", "!!float .inf", "!x y", "a: b: c"),
    *("a: 1\na: 2", "<<: [1, 2]", "<<: {a: 1}\n<<: {b: 2}", "? [a]\n: b", "%YAML 9.9\n---\na: b", "--- a\n--- b"),
    *(
        "a: |\n" + " x\n" * 300,
        "\t- a",
        "title: 2026-99-99",
        "x: 0x" + "f" * 5000,
        "x: 1:" + "59:" * 800 + "1",
        "x: 9e9999",
    ),
    *(
        "@",
        "`",
        "*a",
        "&",
        "!",
        "!<",
        "%",
        "%TAG ! tag:a,b:",
        '"\\ud800"',
        '"\\x"',
        "'",
        '"',
        "a: 'b",
        "{a: [b}",
        "\x00",
    ),
    *(
        "a: &a "
        + "[x]\n"
        + "".join(f"k{n}: &k{n} [{', '.join(['*a' if n == 0 else f'*k{n - 1}'] * 9)}]\n" for n in range(9)),
    ),
)
TEAR: Final = "\n\n\t  :-[]{}&*!|>'\"%@`#,?<~=\\0123éx\x00\x85\u2028\ufeff"


@cache
def valid() -> tuple[Any, ...]:
    return tuple(yaml.load(kind.text, yaml.BaseLoader) for kind in KINDS)


def case(source: random.Random, folder: Path) -> str:
    """One file, read."""
    at = source.randrange(len(KINDS))
    kind = KINDS[at]
    data = made(source, at).encode("utf-8", "surrogatepass")
    draw = source.random()
    if draw < 0.05:
        data = data.decode("utf-8", "replace").encode(
            source.choice(("utf-16", "utf-32", "utf-16-le", "cp1252")), "replace"
        )
    elif draw < 0.1:
        place = source.randrange(len(data) + 1)
        data = data[:place] + source.randbytes(source.randrange(1, 5)) + data[place:]
    path = folder / "ours.yaml"
    path.write_bytes(data)
    try:
        found = kind.read(path)
    except InputError as refused:
        where = refused.place
        assert where.file is not None and (where.line is not None or refused.code.endswith("too_long")), (
            f"no line: {refused} of {data[:300]!r}"
        )
        lines = data.count(b"\n") + data.count(b"\r") + data.decode("utf-8", "replace").count("\x85") + 2
        lines += sum(data.decode("utf-8", "replace").count(one) for one in "\u2028\u2029")
        assert where.line is None or 1 <= where.line <= lines, f"a line that there is not: {refused} of {data[:300]!r}"
        assert refused.remedy or refused.wanted or refused.found, f"no word of what to do: {refused} of {data[:300]!r}"
        assert len(str(refused)) < 4000, f"{len(str(refused))} letters: {str(refused)[:300]}"
        return refused.code
    assert found is not None
    return "taken"


def made(source: random.Random, at: int) -> str:
    """The text of a file."""
    draw = source.random()
    text = KINDS[at].text
    if draw < 0.6:
        tree = deepcopy(valid()[at])
        for _ in range(source.choice((1, 1, 1, 2, 4))):
            tree = changed(source, tree)
        if source.random() < 0.5:
            try:
                return json.dumps(tree, ensure_ascii=source.random() < 0.5, default=str)
            except (ValueError, TypeError):
                return text
        try:
            return str(
                yaml.safe_dump(
                    tree, allow_unicode=source.random() < 0.5, default_flow_style=source.choice((None, True))
                )
            )
        except ValueError:
            return text
    if draw < 0.75:
        lines = text.splitlines()
        lines.insert(source.randrange(len(lines) + 1), source.choice(TEXTS))
        return "\n".join(lines)
    if draw < 0.8:
        return source.choice(TEXTS)
    for _ in range(source.choice((1, 2, 5))):
        place = source.randrange(len(text) + 1)
        text = text[:place] + source.choice(TEAR) * source.choice((1, 1, 3)) + text[place + source.randrange(3) :]
    return text


def changed(source: random.Random, tree: Any) -> Any:
    """A tree with one node replaced, left out, doubled or called something else."""
    places: list[tuple[Any, Any]] = []

    def walk(node: Any) -> None:
        if isinstance(node, dict):
            pairs = list(node.items())
        elif isinstance(node, list):
            pairs = list(enumerate(node))
        else:
            return
        for key, value in pairs:
            places.append((node, key))
            walk(value)

    walk(tree)
    if not places or source.random() < 0.02:
        return deepcopy(source.choice(ODD))
    holder, key = source.choice(places)
    draw = source.random()
    if draw < 0.75:
        holder[key] = deepcopy(source.choice(ODD))
    elif draw < 0.85:
        del holder[key]
    elif isinstance(holder, dict):
        name = source.choice(ODD)
        if not isinstance(name, (list, dict)):
            holder[name] = holder.pop(key)
    else:
        holder.append(deepcopy(holder[key]))
    return tree
