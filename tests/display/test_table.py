"""Tables for the terminal: straight columns, whatever is in the cells, and nothing lost."""

from __future__ import annotations

import subprocess
import sys
from ast import literal_eval

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.declare.printable import printable
from bevelbook.display.format import wrapped
from bevelbook.display.line_width import set_terminal_width
from bevelbook.display.table import table_lines
from bevelbook.display.wrapping import display_width, fitted, wrapped_words


def test_columns_are_aligned_and_lines_end_without_blanks() -> None:
    rows = [("oil", "9.5", ""), ("shim", "12", "two thin ones")]
    assert list(table_lines(rows, headings=("part", "g", "note"), right={1}, indent="  ")) == [
        "  part    g  note",
        "  oil   9.5",
        "  shim   12  two thin ones",
    ]


def test_a_last_column_to_the_right() -> None:
    assert list(table_lines([("oil", "9.5"), ("shim", "112.5")], headings=("", "g"), right={1})) == [
        "          g",
        "oil     9.5",
        "shim  112.5",
    ]


def test_the_last_column_is_wrapped_under_itself() -> None:
    rows = [("a", "one two three"), ("bb", "four")]
    assert list(table_lines(rows, wrap_at=11)) == ["a   one two", "    three", "bb  four"]


def test_a_cell_that_is_too_wide_has_a_line_of_its_own() -> None:
    rows = [("short", "what it is"), ("much too long", "what it is"), ("", "and more")]
    assert list(table_lines(rows, indent="  ", widest=6)) == [
        "  short  what it is",
        "  much too long",
        "         what it is",
        "         and more",
    ]


def test_a_cell_that_is_as_wide_as_may_be_widens_its_column() -> None:
    """Its row stays on one line; one character more and the row is two."""
    rows = [("sixsix", "a"), ("oil", "b"), ("sevenss", "c")]
    assert list(table_lines(rows, widest=6)) == ["sixsix  a", "oil     b", "sevenss", "        c"]


@pytest.fixture
def narrow() -> None:
    """A terminal of 40 columns."""
    set_terminal_width(40)


@pytest.mark.usefixtures("narrow")
def test_a_table_without_rows_has_no_lines_on_a_terminal_either() -> None:
    assert list(table_lines([])) == []
    assert list(table_lines([("oil", "9.5")][:0], indent="  ", right={0})) == []


@pytest.mark.usefixtures("narrow")
def test_columns_of_words_get_narrower_in_a_narrow_terminal() -> None:
    rows = [("1", "3", "wipe the hole dry, then in until the head touches", "0.37")]
    assert list(table_lines(rows, headings=("pass", "screw", "words", "N·m"), right={0, 1, 3})) == [
        "pass  screw  words                   N·m",
        "   1      3  wipe the hole dry,     0.37",
        "             then in until the",
        "             head touches",
    ]


@pytest.mark.usefixtures("narrow")
def test_a_table_that_cannot_get_narrow_enough_gives_each_row_lines_of_its_own() -> None:
    rows = [(f"rear-a/{number}", *("10,000 cSt",) * 5) for number in (1, 2)]
    headings = ("build", "oil", "before", "after", "front", "centre")
    assert list(table_lines(rows, headings=headings, indent="  ")) == [
        line
        for number in (1, 2)
        for line in (f"  rear-a/{number}", *(f"    {heading}: 10,000 cSt" for heading in headings[1:]))
    ]


@pytest.mark.usefixtures("narrow")
def test_lines_fit_the_terminal_but_for_commands_to_copy() -> None:
    said = "  -> Open it, look at shafts, gears and seals, and note what you find."
    assert fitted(said) == [
        "  -> Open it, look at shafts, gears and",
        "     seals, and note what you find.",
    ]
    command = "Browse it:          bevelbook --db a-long-name.db serve"
    assert fitted(command) == [command]
    assert fitted("x" * 60) == ["x" * 60]
    assert all(len(line) <= 40 for line in wrapped("a sentence about oil " * 20))


def test_no_rows_are_no_lines() -> None:
    assert list(table_lines([])) == []
    assert list(table_lines([], headings=("a", "b"))) == ["a  b"]


def test_rows_of_unequal_length_are_refused() -> None:
    with pytest.raises(ValueError, match="zip"):
        list(table_lines([("a", "b"), ("c",)]))


@pytest.mark.parametrize(
    ("text", "width"),
    [
        ("oil", 3),
        ("", 0),
        ("g/cm³", 5),
        ("\u00e9", 1),
        ("e\u0301", 1),
        ("油", 2),
        ("\u30aa\u30a4\u30eb", 6),
        ("\uff76", 1),
        ("\uff21", 2),
        ("\u00b0C", 2),
        ("\U0001f6e2", 1),
        ("\U0001f527", 2),
    ],
)
def test_width_on_the_terminal(text: str, width: int) -> None:
    """Unicode Standard Annex 11: ideographs, katakana and full-width letters are wide, half-width katakana narrow."""
    assert display_width(text) == width


CELLS = st.text(st.characters(codec="utf-8", exclude_categories=("M", "Z")) | st.sampled_from("油e\u0301 "), max_size=9)
ROWS = st.integers(1, 5).flatmap(lambda cells: st.lists(st.tuples(*[CELLS] * cells), min_size=1, max_size=6))


@given(ROWS, st.sets(st.integers(0, 4)))
def test_every_cell_of_a_column_is_in_the_same_place(rows: list[tuple[str, ...]], right: set[int]) -> None:
    """Each line is cut by display width; every part is its cell and blanks."""
    lines = list(table_lines(rows, right=right))
    assert len(lines) == len(rows)
    widths = [max(display_width(printable(cell)) for cell in column) for column in zip(*rows, strict=True)]
    for row, line in zip(rows, lines, strict=True):
        parts = [
            " " * (width - display_width(printable(cell))) * (place in right)
            + printable(cell)
            + " " * (width - display_width(printable(cell))) * (place not in right)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        assert [display_width(part) for part in parts] == widths
        assert line == "  ".join(parts).rstrip(" ")


@given(st.lists(st.tuples(CELLS, st.text("ab 油", max_size=40)), min_size=1, max_size=5), st.integers(1, 30))
def test_wrapping_loses_no_word(rows: list[tuple[str, str]], wrap_at: int) -> None:
    lines = list(table_lines(rows, widest=4, wrap_at=wrap_at))
    printed = "".join("".join(line.split()) for line in lines)
    assert printed == "".join("".join(f"{printable(first)}{last}".split()) for first, last in rows)


@given(st.text("ab 油", max_size=60), st.integers(1, 20))
def test_a_wrapped_line_is_too_wide_only_where_it_is_one_word(text: str, width: int) -> None:
    lines = wrapped_words(text, width)
    assert " ".join(lines).split() == text.split()
    assert all(display_width(line) <= width or " " not in line.strip(" ") for line in lines)


def test_importing_it_loads_no_library() -> None:
    code = (
        "import sys; before = set(sys.modules); import bevelbook.display.table; "
        "print(sorted(n for n in set(sys.modules) - before if n.split('.')[0] not in sys.stdlib_module_names))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = literal_eval(done.stdout)
    assert "bevelbook.display.wrapping" in loaded
    assert {name.partition(".")[0] for name in loaded} == {"bevelbook"}
