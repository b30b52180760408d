"""What to pack: a list of the team's own, or the bundled one, and what a plan takes along.

::

    title: "What we pack"
    lists:
      - title: "Diffs"
        from_plan: ["diffs", "oils", "parts", "scale"]
        things:
          - "towel"
          - what: "LiPo packs"
            cautions: ["lipo", "Count them."]

``from_plan`` is what the plan itself puts into a list: the diffs that go, the oils in them and for them, spare rings
and other parts for one rebuild, the scale. What stands in no list comes last. ``cautions`` are keys of
``cautions.csv``, or the team's own sentences.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.display.format import wrapped
from bevelbook.reading.yaml_text import OpensBytes, YamlKind, YamlValue, bundled_yaml, read_yaml, yaml_value
from bevelbook.reference import BUNDLED, caution_in_words, caution_typed_in, read_text

FILE: Final = "packing.yaml"
YAML: Final = YamlKind(
    noun="packing list",
    too_long_code="packing_too_long",
    encoding_code="packing_encoding",
    yaml_code="packing_yaml",
    value_code="packing_value",
    name_code="packing_value",
)
FROM_PLAN: Final = ("diffs", "oils", "parts", "scale")
"""What a plan puts on the list."""
_OTHERS: Final = "For this plan"


class ThingToPack(NamedTuple):
    """Something to pack. ``is_of_plan`` where it follows from the plan and does not stand on the list; ``cautions`` in
    words."""

    words: str
    is_of_plan: bool = False
    cautions: tuple[str, ...] = ()


class PackedTogether(NamedTuple):
    """Things under one heading."""

    title: str
    things: tuple[ThingToPack, ...]

    def lines(self) -> Iterator[str]:
        """The heading and its things, each with a box to tick."""
        yield self.title
        for thing in self.things:
            yield from wrapped(f"[ ] {thing.words}", "  ")
            for caution in thing.cautions:
                yield from wrapped(caution, "      ")


class ListToPack(NamedTuple):
    """One list of a file: its things, and what the plan puts into it."""

    title: str
    from_plan: tuple[str, ...]
    things: tuple[ThingToPack, ...]


class PackingList(NamedTuple):
    """The lists of a file in their order."""

    title: str
    lists: tuple[ListToPack, ...]


def bundled_packing_list() -> PackingList:
    """The list that comes with the tool.

    >>> bundled_packing_list().title
    'To pack'
    """
    return _packing_list(bundled_yaml(read_text(BUNDLED, FILE), FILE, YAML))


def read_packing_list(path: OpensBytes) -> PackingList:
    """A team's own list. Raises InputError with file, line and key, and near misses for what is misspelt."""
    return _packing_list(read_yaml(path, YAML))


def packing_list_from(text: str, name: str) -> PackingList:
    """The list that a text holds; ``name`` is the file's, for errors. Raises InputError."""
    return _packing_list(yaml_value(text, name, YAML))


def packed(packing: PackingList, of_plan: Mapping[str, Sequence[str]]) -> tuple[PackedTogether, ...]:
    """The lists with what the plan puts on them, by the words of ``FROM_PLAN``; lists that stay empty are left out."""
    found = []
    for one in packing.lists:
        derived = [ThingToPack(words, True) for name in one.from_plan for words in of_plan.get(name, ())]
        found.append(PackedTogether(one.title, (*derived, *one.things)))
    listed = {name for one in packing.lists for name in one.from_plan}
    others = [ThingToPack(words, True) for name in FROM_PLAN if name not in listed for words in of_plan.get(name, ())]
    found.append(PackedTogether(_OTHERS, tuple(others)))
    return tuple(one for one in found if one.things)


def _packing_list(top: YamlValue) -> PackingList:
    if not top.is_mapping:
        raise top.fault("a packing list has a title and lists", wanted="title, lists")
    found = top.fields(("title", "lists"), needed=("title", "lists"), called="key of a packing list")
    if not found["lists"].listed():
        raise found["lists"].fault("there are no lists", wanted='- title: "Tools"')
    lists: list[ListToPack] = []
    taken: dict[str, str] = {}
    for value in found["lists"].items():
        one = _list_to_pack(value)
        if one.title in {other.title for other in lists}:
            raise value.fault("two lists have one title", found=one.title, remedy="Give each a title of its own.")
        for name in one.from_plan:
            if name in taken:
                raise value.fault(
                    f"two lists take {name} from the plan",
                    found=f"{taken[name]}, {one.title}",
                    remedy="Keep one of the two.",
                )
            taken[name] = one.title
        lists.append(one)
    return PackingList(found["title"].words(), tuple(lists))


def _list_to_pack(value: YamlValue) -> ListToPack:
    if not value.is_mapping:
        raise value.fault("a list has a title and things", found=value.typed, wanted="title, things")
    title = value.pairs().get("title")
    one = value.named(f"list {title.typed}" if title and title.is_plain and title.typed else "list")
    found = one.fields(("title", "from_plan", "things"), needed=("title",), called="key of a list")
    if "things" not in found and "from_plan" not in found:
        raise one.fault("there is nothing in this list", wanted='things: ["towel"]')
    return ListToPack(
        found["title"].words(),
        tuple(item.one_of(FROM_PLAN, "part of a plan to pack") for item in _listed(found.get("from_plan"))),
        tuple(map(_thing, _listed(found.get("things")))),
    )


def _listed(value: YamlValue | None) -> list[YamlValue]:
    return [] if value is None else value.listed()


def _thing(value: YamlValue) -> ThingToPack:
    if not value.is_mapping:
        return ThingToPack(value.words())
    found = value.fields(("what", "cautions"), needed=("what",), called="key of a thing")
    return ThingToPack(
        found["what"].words(),
        cautions=tuple(caution_in_words(caution_typed_in(item)) for item in _listed(found.get("cautions"))),
    )
