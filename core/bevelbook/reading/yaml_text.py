"""YAML files that a team writes: every value as it was typed, with its line and the keys that lead to it.

A value is never turned into anything but text here, and no text is guessed at: where a value has to be text, what YAML
takes for a number, a date or yes and no has to be in quotes, so that every other program reads the same. A key is
always the text that was typed, with or without quotes.
"""

from __future__ import annotations

import codecs
from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING, BinaryIO, Final, Literal, NamedTuple, Protocol

from bevelbook.declare.errors import InputError, Place, near_misses, shown
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.vocabulary import YES_NO

if TYPE_CHECKING:
    from yaml.nodes import Node

LARGEST_BYTES: Final = 200_000
DEEPEST: Final = 50
"""The most levels of values in one another, the file's own value included."""
_LONGEST_CALLED: Final = 60
"""Letters of a key that an error names."""
_TAG: Final = "tag:yaml.org,2002:"
_KNOWN_TAGS: Final = frozenset(
    _TAG + name for name in ("str", "int", "float", "bool", "null", "timestamp", "merge", "value", "seq", "map")
)
_IN_QUOTES: Final = "text in quotes, since YAML reads no as false and 13:37 as 817"

_LINE_BREAK: Final = late_pattern("\r\n|[\n\r\x85\u2028\u2029]")


class OpensBytes(Protocol):
    """A file, or what is named in place of one, such as standard input; as text it is its name."""

    def open(self, mode: Literal["rb"], /) -> BinaryIO: ...


class YamlKind(NamedTuple):
    """What a file is, in a word, and the codes of its errors."""

    noun: str
    too_long_code: str
    encoding_code: str
    yaml_code: str
    value_code: str
    name_code: str


class YamlValue:
    """A value of a file: ``path`` is the keys that lead to it, joined by commas; ``line`` is that of its key."""

    def __init__(self, kind: YamlKind, file: str, node: Node | None, line: int, path: str = "") -> None:
        self._kind, self._file, self._node = kind, file, node
        self.line = line
        self.path = path

    @property
    def is_list(self) -> bool:
        return self._node is not None and _shape(self._node) == "sequence"

    @property
    def is_mapping(self) -> bool:
        return self._node is not None and _shape(self._node) == "mapping"

    @property
    def is_plain(self) -> bool:
        """Whether it is a single value, such as a text or a number, and not a list or a mapping."""
        return self._node is not None and _shape(self._node) == "scalar"

    @property
    def is_nothing(self) -> bool:
        """Whether nothing was written, or null."""
        return self._node is None or self._node.tag == f"{_TAG}null"

    @property
    def typed(self) -> str:
        """A plain value as it was typed; of a list or a mapping, that it is one."""
        if self._node is None:
            return ""
        return str(self._node.value) if _shape(self._node) == "scalar" else f"a {'list' if self.is_list else 'mapping'}"

    def text(self) -> str:
        """The text as it was typed. Raises InputError for one that YAML does not take for text."""
        if self._node is None or self._node.tag != f"{_TAG}str":
            wanted = _IN_QUOTES if self.is_plain else "one text"
            raise self.fault("this is not text", found=self.typed, wanted=wanted)
        return self.typed

    def yes_or_no(self) -> bool:
        """Whether it is yes, in quotes or without. Raises InputError for anything but yes and no."""
        said = self.typed.casefold() if self.is_plain else ""
        if said not in YES_NO:
            raise self.fault("this is neither yes nor no", found=self.typed, wanted=" or ".join(YES_NO))
        return said == YES_NO[0]

    def words(self) -> str:
        """The same on one line, however it is broken or indented in the file. Raises InputError also where it is
        empty."""
        words = " ".join(self.text().split())
        if not words:
            raise self.fault("this is empty", remedy="Write it, or leave the key out where it may be missing.")
        return words

    def one_of(self, known: Collection[str], noun: str, or_else: str = "") -> str:
        """The same, where it is a known word. Raises InputError for any other, with near misses; ``or_else`` says what
        there may be instead."""
        text = self.words()
        if text not in known:
            raise self.fault(
                f"there is no {noun} named {shown(text)}",
                wanted=f"one of {', '.join(known)}{f', {or_else}' if or_else else ''}",
                remedy=near_misses(text, known) or None,
            )
        return text

    def listed(self) -> list[YamlValue]:
        """The values of a list. Raises InputError for anything else."""
        if not self.is_list:
            raise self.fault("this is not a list", found=self.typed, wanted='["one", "two"]')
        return self.items()

    def items(self) -> list[YamlValue]:
        """The values of a list, each at its own line; none for anything else."""
        if self._node is None or not self.is_list:
            return []
        return [YamlValue(self._kind, self._file, node, _line(node), self.path) for node in self._node.value]

    def named(self, path: str) -> YamlValue:
        """The same value, called something else in errors, which is cut where it is long."""
        return YamlValue(self._kind, self._file, self._node, self.line, _called(path))

    def pairs(self) -> dict[str, YamlValue]:
        """The values of a mapping by their keys, those of merged mappings (``<<``) after its own; else nothing.

        Raises InputError for a key that appears twice.
        """
        found: dict[str, YamlValue] = {}
        for key, node, is_merged in _pairs(self._node):
            name, line = str(key.value), _line(key)
            if name not in found:
                found[name] = self._within(name, node, line)
            elif not is_merged:
                raise self._at(line).fault(f"{shown(name)} appears twice", remedy="Keep one of the two.")
        return found

    def fields(self, known: Collection[str], *, needed: Collection[str] = (), called: str) -> dict[str, YamlValue]:
        """The same, of keys that are known. ``called`` says what a key is. Raises InputError also for others.

        Near misses of an unknown key are named; so is the first key of ``needed`` that is missing.
        """
        found = self.pairs()
        for name, value in found.items():
            if name not in known:
                raise self._at(value.line).fault(
                    f"there is no {called} named {shown(name)}",
                    code=self._kind.name_code,
                    wanted=", ".join(known),
                    remedy=near_misses(name, known) or None,
                )
        for name in needed:
            if name not in found:
                raise self.fault(f"{self.path or f'the {self._kind.noun}'} has no {name}", wanted=", ".join(needed))
        return found

    @property
    def place(self) -> Place:
        return Place(self._file, self.line, self.path or None)

    def fault(
        self,
        what: str,
        *,
        code: str | None = None,
        found: str | None = None,
        wanted: str | None = None,
        remedy: str | None = None,
    ) -> InputError:
        """An error at this value."""
        return InputError(
            what,
            code=code or self._kind.value_code,
            place=self.place,
            found=found,
            wanted=wanted,
            remedy=remedy,
        )

    def _at(self, line: int) -> YamlValue:
        return YamlValue(self._kind, self._file, self._node, line, self.path)

    def _within(self, name: str, node: Node | None, line: int) -> YamlValue:
        key = _called(name) or '""'
        return YamlValue(self._kind, self._file, node, line, f"{self.path}, {key}" if self.path else key)


def read_yaml(path: OpensBytes, kind: YamlKind) -> YamlValue:
    """The value that a file holds. Raises InputError, of ``LARGEST_BYTES`` and UTF-8 too."""
    place = Place(str(path))
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_BYTES + 1)
    except OSError as fault:
        raise InputError(f"the {kind.noun} cannot be read", code="no_file", place=place, found=fault.strerror) from None
    if len(content) > LARGEST_BYTES:
        raise InputError(
            f"the file is too long for a {kind.noun}",
            code=kind.too_long_code,
            place=place,
            wanted=f"at most {LARGEST_BYTES:,} bytes",
            remedy="Check whether this is the right file.",
        )
    return yaml_value(_decoded(content, place, kind), str(path), kind)


def _decoded(content: bytes, place: Place, kind: YamlKind) -> str:
    """The text of a file. UTF-16 and UTF-32 are known by their zero bytes: YAML 1.2.2, section 5.2."""
    content = content.removeprefix(codecs.BOM_UTF8)
    wrong_at = 0 if b"\0\0" in (content[0:4:2], content[1:4:2]) else None
    if wrong_at is None:
        try:
            return content.decode("utf-8")
        except UnicodeDecodeError as fault:
            wrong_at = fault.start
    raise InputError(
        f"the {kind.noun} is not UTF-8 text",
        code=kind.encoding_code,
        place=place._replace(line=_line_at(content.decode("utf-8", "replace"), wrong_at)),
        remedy="Save it as UTF-8.",
    )


def yaml_value(text: str, file: str, kind: YamlKind) -> YamlValue:
    """The value that a text holds; ``file`` is its name in errors. Raises InputError for what is not valid YAML."""
    import yaml

    class Loader(yaml.SafeLoader):
        depth = 0

        def compose_node(self, parent: Node | None, index: int) -> Node | None:
            self.depth += 1
            if self.depth > DEEPEST:
                raise InputError(
                    f"the {kind.noun} is nested too deep",
                    code=kind.yaml_code,
                    place=Place(file, self.peek_event().start_mark.line + 1),  # type: ignore[no-untyped-call]
                    wanted=f"at most {DEEPEST} levels",
                    remedy="Check the brackets and the indentation.",
                )
            node = super().compose_node(parent, index)
            self.depth -= 1
            return node

    if forbidden := Loader.NON_PRINTABLE.search(text):
        raise _forbidden(forbidden[0], Place(file, _line_at(text, forbidden.start())), kind)
    loader = Loader(text)
    try:
        node = loader.get_single_node()
    except (yaml.YAMLError, ValueError, OverflowError) as fault:
        mark = getattr(fault, "problem_mark", None) or loader.get_mark()
        raise InputError(
            f"the {kind.noun} is not valid YAML",
            code=kind.yaml_code,
            place=Place(file, mark.line + 1),
            remedy="Put texts in quotes, and indent what belongs together by two blanks.",
        ) from None
    for odd, what, remedy in _odd_nodes(node):
        raise InputError(what, code=kind.yaml_code, place=Place(file, _line(odd)), remedy=remedy)
    return YamlValue(kind, file, node, 1 if node is None else _line(node))


def bundled_yaml(text: str, file: str, kind: YamlKind) -> YamlValue:
    """The value of a text that comes with the program: read by the parser in C, where there is one, since nothing
    in it is to be refused. Raises yaml.YAMLError."""
    import yaml

    node = yaml.compose(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    return YamlValue(kind, file, node, 1 if node is None else _line(node))


def _forbidden(character: str, place: Place, kind: YamlKind) -> InputError:
    from unicodedata import category

    what = "a control character" if category(character) == "Cc" else "a character that YAML does not allow"
    return InputError(
        f"the {kind.noun} contains {what}", code=kind.yaml_code, place=place, found=character, remedy="Delete it."
    )


def _odd_nodes(top: Node | None) -> Iterator[tuple[Node, str, str]]:
    """What a team's file may not hold, and what to do; each part is looked at once however often it is referred to."""
    seen: set[int] = set()
    waiting = [top] if top is not None else []
    while waiting:
        node = waiting.pop()
        if id(node) in seen:
            continue
        seen.add(id(node))
        if node.tag not in _KNOWN_TAGS:
            typed = shown(node.tag.replace(_TAG, "!!"))
            yield node, f"the tag {typed} is not allowed", "Delete the tag, or put a text with ! before it in quotes."
        if _shape(node) == "mapping":
            yield from _odd_keys(node)
            for key, value in node.value:
                waiting += (key, value)
        elif _shape(node) == "sequence":
            waiting += node.value


def _odd_keys(mapping: Node) -> Iterator[tuple[Node, str, str]]:
    merges = 0
    for key, value in mapping.value:
        if _shape(key) != "scalar":
            yield (
                key,
                "a key is a list or a mapping",
                "Write a word or a text as the key, in quotes if it has brackets.",
            )
        if key.tag == f"{_TAG}merge":
            merges += 1
            if any(_shape(merged) != "mapping" for merged in _merged(value)):
                yield (
                    key,
                    "<< merges something that is not a mapping",
                    "Merge a mapping, as in <<: *name, or put << in quotes if it is a key.",
                )
            if merges > 1:
                yield key, "<< appears twice", "Merge both in one line, as in <<: [*one, *other]."


def _pairs(top: Node | None) -> Iterator[tuple[Node, Node, bool]]:
    """Key, value and whether they are merged in, of a mapping; each mapping once, so that none can merge itself."""
    seen: set[int] = set()
    waiting = [top] if top is not None and _shape(top) == "mapping" else []
    while waiting:
        node = waiting.pop()
        if id(node) in seen:
            continue
        seen.add(id(node))
        merged: list[Node] = []
        for key, value in node.value:
            if key.tag == f"{_TAG}merge":
                merged += _merged(value)
            else:
                yield key, value, node is not top
        waiting += reversed(merged)


def _merged(value: Node) -> list[Node]:
    return list(value.value) if _shape(value) == "sequence" else [value]


def _called(name: str) -> str:
    return name if len(name) <= _LONGEST_CALLED else f"{name[:_LONGEST_CALLED]}…"


def _line(node: Node) -> int:
    return int(node.start_mark.line) + 1


def _line_at(text: str, position: int) -> int:
    """The line of a character, counted from 1, by the line breaks of YAML."""
    return 1 + len(_LINE_BREAK.findall(text, 0, position))


def _shape(node: Node) -> str:
    """``scalar``, ``sequence`` or ``mapping``."""
    return str(node.id)  # type: ignore[attr-defined]
