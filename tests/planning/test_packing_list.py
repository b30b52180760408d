"""The list of what to pack: the bundled one, a team's own, and every fault of a file named with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.planning.packing_list import (
    FILE,
    FROM_PLAN,
    bundled_packing_list,
    packed,
    packing_list_from,
    read_packing_list,
)
from bevelbook.reference import BUNDLED, caution_in_words, read_text

OWN = """\
title: "What we pack"
lists:
  - title: "Box"
    from_plan: ["oils"]
    things: ["towel", {what: "LiPo packs", cautions: ["lipo", "Count them twice."]}]
  - title: "Empty"
    from_plan: ["scale"]
"""


def test_the_bundled_list_takes_all_that_a_plan_has_and_warns_of_packs_and_solvent() -> None:
    packing = bundled_packing_list()
    assert sorted(name for one in packing.lists for name in one.from_plan) == sorted(FROM_PLAN)
    cautions = {text for one in packing.lists for thing in one.things for text in thing.cautions}
    assert {caution_in_words(key) for key in ("lipo", "solvent", "waste-oil", "oil-on-floor")} <= cautions


def test_what_the_plan_takes_stands_where_the_team_wants_it_and_else_last(tmp_path: Path) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(OWN, encoding="utf-8")
    found = packed(read_packing_list(path), {"oils": ["7k"], "diffs": ["rear-a"]})
    assert [(one.title, [(thing.words, thing.is_of_plan) for thing in one.things]) for one in found] == [
        ("Box", [("7k", True), ("towel", False), ("LiPo packs", False)]),
        ("For this plan", [("rear-a", True)]),
    ]
    assert found[0].things[2].cautions == (caution_in_words("lipo"), "Count them twice.")
    assert list(found[0].lines())[:2] == ["Box", "  [ ] 7k"]


@pytest.mark.parametrize(
    ("typed", "line", "said"),
    [
        ("- towel", 1, "a packing list has a title and lists"),
        ('title: "x"', 1, "the packing list has no lists"),
        ('title: "x"\nlists: []', 2, "there are no lists"),
        ('title: "x"\nlists: "towel"', 2, "this is not a list"),
        ('title: "x"\nlists: ["towel"]', 2, "a list has a title and things"),
        ('title: ""\nlists:\n  - title: "a"\n    things: ["b"]', 1, "this is empty"),
        ('title: "x"\nlists:\n  - title: "a"', 3, "list a: there is nothing in this list"),
        ('title: "x"\nlists:\n  - title: "a"\n    thing: ["b"]', 4, 'there is no key of a list named "thing"'),
        ('title: "x"\nlists:\n  - title: "a"\n    things: [13:37]', 4, "list a, things: this is not text"),
        ('title: "x"\nlists:\n  - title: "a"\n    things: "b"', 4, "list a, things: this is not a list"),
        (
            'title: "x"\nlists:\n  - title: "a"\n    from_plan: ["oil"]',
            4,
            'list a, from_plan: there is no part of a plan to pack named "oil"',
        ),
        (
            'title: "x"\nlists:\n  - title: "a"\n    things: [{what: "b", cautions: ["lipoo"]}]',
            4,
            'there is no caution named "lipoo"',
        ),
        ('title: "x"\nlists:\n  - title: "a"\n    things: [{name: "b"}]', 4, 'no key of a thing named "name"'),
        (
            'title: "x"\nlists:\n  - {title: "a", things: ["b"]}\n  - {title: "a", things: ["c"]}',
            4,
            "two lists have one title",
        ),
        (
            'title: "x"\nlists:\n  - {title: "a", from_plan: ["oils"]}\n  - {title: "b", from_plan: ["oils"]}',
            4,
            "two lists take oils from the plan",
        ),
        ('title: "x', 1, "the packing list is not valid YAML"),
    ],
)
def test_a_fault_is_named_with_its_line(typed: str, line: int, said: str) -> None:
    with pytest.raises(InputError) as fault:
        packing_list_from(typed, "own.yaml")
    assert fault.value.place is not None
    assert (fault.value.place.file, fault.value.place.line) == ("own.yaml", line)
    assert said in str(fault.value)


def test_a_near_miss_is_named() -> None:
    with pytest.raises(InputError, match="lipo"):
        packing_list_from('title: "x"\nlists:\n  - {title: "a", things: [{what: "b", cautions: ["lipp"]}]}', "own.yaml")


def test_the_bundled_file_is_one_that_a_team_could_have_written() -> None:
    """It is read by another parser than a team's own."""
    assert bundled_packing_list() == packing_list_from(read_text(BUNDLED, FILE), FILE)
