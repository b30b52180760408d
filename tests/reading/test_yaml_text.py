"""The one reader of YAML: values as they were typed, with line and keys, and nothing that can hurt."""

from __future__ import annotations

import codecs
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.card.procedure import YAML as PROCEDURE
from bevelbook.card.procedure import procedure_from, read_procedure
from bevelbook.declare.errors import InputError
from bevelbook.notes.profiles import YAML as PROFILE
from bevelbook.notes.profiles import profile_from, read_profile
from bevelbook.reading.yaml_text import DEEPEST, LARGEST_BYTES, YamlKind, YamlValue, read_yaml, yaml_value


def value_of(text: str) -> YamlValue:
    return yaml_value(text, "ours.yaml", PROFILE)


def plain(value: YamlValue) -> Any:
    """A value as lists, dicts and texts."""
    if value.is_list:
        return [plain(item) for item in value.items()]
    if value.is_mapping:
        return {name: plain(inner) for name, inner in value.pairs().items()}
    return value.text()


def test_every_value_knows_its_line_and_its_keys() -> None:
    top = value_of('a:\n  b: "x"\n  c:\n    - "y"\n    - "z"\n')
    inner = top.pairs()["a"].pairs()
    assert (inner["b"].text(), inner["b"].line, inner["b"].path) == ("x", 2, "a, b")
    assert [(item.text(), item.line, item.path) for item in inner["c"].items()] == [("y", 4, "a, c"), ("z", 5, "a, c")]


@pytest.mark.parametrize("typed", ["no", "13:37", "2026-05-03", "1.50", "0x1F", "~", "=", "null", "1.0e+3"])
def test_what_yaml_takes_for_something_else_is_kept_as_typed_and_refused_as_text(typed: str) -> None:
    value = value_of(f"a: {typed}").pairs()["a"]
    assert value.typed == typed
    with pytest.raises(InputError, match="in quotes") as raised:
        value.text()
    assert raised.value.found == typed
    assert value_of(f'a: "{typed}"').pairs()["a"].text() == typed


TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=8)
TREES = st.recursive(TEXTS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3))


@given(TREES, st.booleans())
def test_texts_lists_and_mappings_come_back_as_they_were_written(tree: Any, in_one_line: bool) -> None:
    """Written by PyYAML's own writer, which puts in quotes what would be read as something else."""
    text = yaml.safe_dump(tree, allow_unicode=True, default_flow_style=in_one_line)
    assert plain(value_of(text)) == tree


@given(
    st.dictionaries(
        st.sampled_from(["=", "no", "1", "1.50", "~", "13:37", "2026-05-03", "Tag", "<"]), TEXTS, min_size=1
    )
)
def test_a_key_is_the_text_that_was_typed(tree: dict[str, str]) -> None:
    """A heading of a sheet may be ``=`` or ``No``; no key has to be in quotes."""
    lines = (f"{key}: {yaml.safe_dump(value, default_style=chr(34), width=10**9)}" for key, value in tree.items())
    assert plain(value_of("".join(lines))) == tree


def test_a_key_with_and_without_quotes_is_one_key() -> None:
    with pytest.raises(InputError, match='"no" appears twice'):
        value_of("no: x\n'no': y").pairs()


MERGED = """
base: &base {a: "1", b: "2", d: "base"}
more: &more {b: "3", c: "4", d: "more"}
whole:
  b: "own"
  <<: [*base, *more]
"""


def test_merged_mappings_are_read_as_yaml_reads_them() -> None:
    """Merge key of YAML 1.1 (yaml.org/type/merge.html): an own key overrides, so does an earlier mapping a later one.

    PyYAML's own reader is the reference. The address is from memory.
    """
    read = plain(value_of(MERGED))
    assert read == yaml.safe_load(MERGED)
    assert read["whole"] == {"b": "own", "a": "1", "c": "4", "d": "base"}


NAMES = st.sampled_from("abc")
OWN_KEYS = st.dictionaries(NAMES, st.sampled_from(["1", "2", "3"]))


@given(st.lists(st.tuples(OWN_KEYS, st.lists(st.integers(0, 5), max_size=3)), min_size=1, max_size=6))
def test_mappings_that_merge_merged_mappings_follow_the_same_rule(mappings: list[tuple[dict[str, str], Any]]) -> None:
    """Each merges some of those before it; what is wanted is the rule above, mapping by mapping."""
    lines: list[str] = []
    wanted: dict[str, dict[str, str]] = {}
    for number, (own, merged) in enumerate(mappings):
        earlier = [f"m{other}" for other in dict.fromkeys(merged) if other < number]
        whole: dict[str, str] = {}
        for name in reversed(earlier):
            whole |= wanted[name]
        wanted[f"m{number}"] = whole | own
        inside = [f"<<: [{', '.join(f'*{name}' for name in earlier)}]", *(f'{key}: "{own[key]}"' for key in own)]
        lines.append(f"m{number}: &m{number} {{{', '.join(inside)}}}")
    assert plain(value_of("\n".join(lines))) == wanted


def test_a_file_that_refers_to_itself_ends() -> None:
    itself = value_of("&a\nb: *a\n<<: *a\n")
    assert list(itself.pairs()) == ["b"]
    chain = "m0: &m0 {}\n" + "".join(f"m{n}: &m{n} {{<<: *m{n - 1}}}\n" for n in range(1, 3000))
    assert value_of(chain).pairs()["m2999"].pairs() == {}
    doubling = "m0: &m0 [a, a]\n" + "".join(f"m{n}: &m{n} [*m{n - 1}, *m{n - 1}]\n" for n in range(1, 60))
    assert value_of(doubling).pairs()["m59"].typed == "a list"


@pytest.mark.parametrize(
    ("text", "line", "words", "remedy"),
    [
        ("a: 'x", 1, "not valid YAML", "in quotes"),
        ("a: x\n b: y", 2, "not valid YAML", "blanks"),
        ("a: x\n---\na: y", 2, "not valid YAML", "in quotes"),
        ('a: x\nb: "\\UFFFFFFFF"', 2, "not valid YAML", "in quotes"),
        ("a: x\nb: z\x00", 2, "contains a control character, found", "Delete it"),
        ("a: x\r\nb: z\rc: \x7f\n", 3, "contains a control character, found", "Delete it"),
        ("a: x\n\x1b: z", 2, "contains a control character, found", "Delete it"),
        ("a: x\n\nb: \ufffe", 3, "contains a character that YAML does not allow", "Delete it"),
        ("a: x\nb: \ud800", 2, "contains a character that YAML does not allow", "Delete it"),
        ("[" * 5000, 1, "nested too deep", "brackets"),
        ("a:\n" + " [\n" * DEEPEST, DEEPEST + 1, "nested too deep", "brackets"),
        (
            "a: x\nb: !!python/name:os.system ''",
            2,
            'the tag "!!python/name:os.system" is not allowed',
            "Delete the tag",
        ),
        ("a: !ours x", 1, 'the tag "!ours" is not allowed', "Delete the tag"),
        ("a: !!set {x}", 1, 'the tag "!!set" is not allowed', "Delete the tag"),
        ("a: x\n{b: c}: d", 2, "a key is a list or a mapping", "a word or a text as the key"),
        ("a: x\n? {b: c}\n: d", 2, "a key is a list or a mapping", "a word or a text as the key"),
        ("a: x\n<<: 3", 2, "<< merges", "Merge a mapping"),
        ("a: &a {}\n<<: *a\n<<: *a", 3, "<< appears twice", "Merge both in one line"),
    ],
)
def test_what_cannot_be_read_says_so_with_its_line_and_what_to_do(
    text: str, line: int, words: str, remedy: str
) -> None:
    with pytest.raises(InputError) as raised:
        value_of(text)
    assert words in str(raised.value)
    assert raised.value.code == "profile_yaml"
    assert (raised.value.place.file, raised.value.place.line) == ("ours.yaml", line)
    assert raised.value.remedy is not None
    assert remedy in raised.value.remedy


def test_values_may_be_nested_up_to_a_limit() -> None:
    assert value_of("[" * DEEPEST + "]" * DEEPEST).is_list
    with pytest.raises(InputError, match=f"at most {DEEPEST}"):
        value_of("[" * (DEEPEST + 1) + "]" * (DEEPEST + 1))


@given(st.text(max_size=60) | st.text('ab:[]{}"-\n &*?!|>#%@<', max_size=60))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    for read in (profile_from, procedure_from):
        try:
            read(text, "ours.yaml")
        except InputError as fault:
            assert str(fault).startswith("ours.yaml")


def test_a_key_that_appears_twice_is_refused_at_its_second_line() -> None:
    with pytest.raises(InputError, match='"date_order" appears twice') as raised:
        profile_from("options:\n  date_order: dmy\n  decimal: ','\n  date_order: mdy\n", "ours.yaml")
    assert (raised.value.place.line, raised.value.place.column) == (4, "options")


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [
        ('columns:\n  "Tag": "date"\n  "leer": "dry_mas_g"', 3, "columns, leer"),
        ('columns:\n  "Tag": "date"\n  no: "dif"', 3, "columns, no"),
        ('columns:\n  "": "dif"', 2, 'columns, ""'),
        ("units:\n  dry_mass_g: g\n  oil_mass_g: mgs", 3, "units, oil_mass_g"),
        ('words:\n  grip:\n    "griffig": "high"\n    "glatt": "lo w"', 4, "words, grip, glatt"),
        ("words:\n  grip: high", 2, "words, grip"),
        ("options:\n  decimal: ','\n  header_line: 0", 3, "options, header_line"),
        ("options:\n  header_line: " + "9" * 5000, 2, "options, header_line"),
        ("options:\n  delimiter: ab", 2, "options, delimiter"),
        ("title: x\noptions:\n  decimals: ','", 3, "options"),
        ("title: x\nunits: g", 2, "units"),
    ],
)
def test_a_fault_of_a_profile_has_its_line_and_its_keys(text: str, line: int, column: str) -> None:
    with pytest.raises(InputError) as raised:
        profile_from(text, "ours.yaml")
    assert (raised.value.place.line, raised.value.place.column) == (line, column)


def test_options_of_a_profile_come_in_as_they_are_used() -> None:
    settings = profile_from("options: {date_base: 1904, header_line: 3, allow_out_of_range: yes, decimal: ','}", "x")
    assert (settings.date_base, settings.header_line, settings.allow_out_of_range, settings.decimal) == (
        1904,
        3,
        True,
        ",",
    )
    assert profile_from("", "x") == profile_from("columns:\nunits: ~\n", "x") == profile_from("title: 7", "x")


@pytest.mark.parametrize(
    ("read", "kind"), [(read_profile, PROFILE), (read_procedure, PROCEDURE)], ids=["profile", "procedure"]
)
def test_files_that_cannot_be_read(read: Callable[[Path], object], kind: YamlKind, tmp_path: Path) -> None:
    (tmp_path / "long.yaml").write_bytes(b"#" * (LARGEST_BYTES + 1))
    (tmp_path / "strange.yaml").write_bytes("title: x".encode("utf-16"))
    for encoding in ("utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be"):
        (tmp_path / f"{encoding}.yaml").write_bytes("title: Öl\n".encode(encoding))
    (tmp_path / "bytes.yaml").write_bytes(codecs.BOM_UTF8 + "title: Öl\nabout: x\nunits: ".encode() + b"\xb0C\n")
    for name, code in (
        ("none.yaml", "no_file"),
        ("", "no_file"),
        ("long.yaml", kind.too_long_code),
        ("strange.yaml", kind.encoding_code),
        ("utf-16-le.yaml", kind.encoding_code),
        ("utf-16-be.yaml", kind.encoding_code),
        ("utf-32-le.yaml", kind.encoding_code),
        ("utf-32-be.yaml", kind.encoding_code),
        ("bytes.yaml", kind.encoding_code),
    ):
        with pytest.raises(InputError, match=kind.noun) as raised:
            read(tmp_path / name)
        assert raised.value.code == code
        assert raised.value.place.file == str(tmp_path / name)
        if code == kind.encoding_code:
            assert raised.value.what == f"the {kind.noun} is not UTF-8 text"
            assert raised.value.place.line == (3 if name == "bytes.yaml" else 1)


def test_a_file_that_can_be_read_gives_what_it_holds(tmp_path: Path) -> None:
    path = tmp_path / "ours.yaml"
    path.write_bytes("\ufeffa:\n  b: [x, y]\n".encode())
    value = read_yaml(path, PROFILE)
    assert plain(value) == {"a": {"b": ["x", "y"]}}
    assert (value.place.file, value.line) == (str(path), 1)


def test_a_file_may_be_as_long_as_the_bound(tmp_path: Path) -> None:
    path = tmp_path / "long.yaml"
    path.write_bytes(b"a: x\n".ljust(LARGEST_BYTES, b"#"))
    assert plain(read_yaml(path, PROFILE)) == {"a": "x"}
    path.write_bytes(b"a: x\n".ljust(LARGEST_BYTES + 1, b"#"))
    with pytest.raises(InputError) as raised:
        read_yaml(path, PROFILE)
    assert raised.value.code == PROFILE.too_long_code
    assert raised.value.wanted == "at most 200,000 bytes"


def test_a_value_called_something_else_is_the_same_one() -> None:
    value = value_of("a: x\nb: 7\n").pairs()["b"]
    other = value.named("step 2")
    assert (other.typed, other.line, other.path) == ("7", 2, "step 2")
    assert (other.place.file, other.place.line, other.place.column) == ("ours.yaml", 2, "step 2")
    assert value.path == "b"


@pytest.mark.parametrize(
    ("text", "typed", "shape"),
    [
        ("[x]", "a list", (True, False, False)),
        ("{a: x}", "a mapping", (False, True, False)),
        ("x", "x", (False, False, False)),
        ("null", "null", (False, False, True)),
        ("", "", (False, False, True)),
    ],
)
def test_a_value_says_what_it_is(text: str, typed: str, shape: tuple[bool, bool, bool]) -> None:
    value = value_of(text)
    assert value.typed == typed
    assert (value.is_list, value.is_mapping, value.is_nothing) == shape
    assert value.line == 1
    assert value.place.column is None


@pytest.mark.parametrize("text", ["", "x", "{a: x}"])
def test_what_is_not_a_list_has_no_items(text: str) -> None:
    assert value_of(text).items() == []


@pytest.mark.parametrize("text", ["", "x", "[x]"])
def test_what_is_not_a_mapping_has_no_pairs(text: str) -> None:
    assert value_of(text).pairs() == {}


def test_an_unknown_key_is_refused_with_those_that_are_known() -> None:
    top = value_of("a: x\nb:\n  brnad: y\n")
    with pytest.raises(InputError, match="there is no colour named") as raised:
        top.pairs()["b"].fields(("brand", "size"), called="colour")
    fault = raised.value
    assert (fault.code, fault.wanted) == (PROFILE.name_code, "brand, size")
    assert (fault.place.line, fault.place.column) == (3, "b")
    assert "brand" in (fault.remedy or "")
    assert list(top.fields(("a", "b", "c"), called="key")) == ["a", "b"]


def test_the_first_key_that_is_needed_and_missing_is_named_with_where_it_belongs() -> None:
    top = value_of("a: x\nb:\n  c: y\n")
    with pytest.raises(InputError, match=f"^ours.yaml.*the {PROFILE.noun} has no d") as raised:
        top.fields(("a", "b", "d", "e"), needed=("a", "d", "e"), called="key")
    assert raised.value.wanted == "a, d, e"
    assert raised.value.code == PROFILE.value_code
    with pytest.raises(InputError, match="b has no f"):
        top.pairs()["b"].fields(("c", "f"), needed=("f",), called="key")
