"""Lines for a terminal: a command to copy is on one of them, whatever wraps the text and however narrow it is.

What a shell takes as one word is asked of ``shlex``, which follows POSIX.1-2017, Shell Command Language, 2.2 Quoting.
"""

from __future__ import annotations

import ast
import re
import shlex
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import bevelbook
from bevelbook.card.text import wrapped_lines
from bevelbook.declare.in_command import in_command
from bevelbook.display.format import wrapped
from bevelbook.display.line_width import set_terminal_width
from bevelbook.display.table import table_lines
from bevelbook.display.wrapping import fitted, hanging, wrapped_under, wrapped_words

NAMES = st.text(st.sampled_from("spring race-'$\"é/"), min_size=1, max_size=14).map(
    lambda text: " ".join(f"a{text}b".split())
)


@given(NAMES, st.integers(4, 60), st.sampled_from(["{}", "{}.", "({})", "{}, or another", "{}; nothing was changed."]))
def test_a_quoted_command_stays_on_its_line_at_any_width(name: str, width: int, around: str) -> None:
    command = f"bevelbook record event {in_command(name)} first_on=... air_temp_low=..."
    text = f"When it is, is not written down, nor the weather's ends: {around.format(repr_of(command))} It takes 2 g."
    for lines in (wrapped_under(text, width), wrapped_words(text, width), hanging(text, width)):
        assert [line for line in lines if command in line], lines
        assert " ".join(line.strip() for line in lines) == text
    assert shlex.split(command)[3] == name


def repr_of(command: str) -> str:
    """A command as texts quote it."""
    return f"'{command}'"


@pytest.mark.parametrize(
    "text",
    [
        "no run says where it was: bevelbook record run-diff 2026-05-03/1/rear build=...",
        "If the build is, name the right one: bevelbook record weighing rear-a/3 build=... . Then look again.",
        "bevelbook record weighing 'rear-a/3 $' mass_basis=closed",
        'Say the day: bevelbook record build "rear a, spare; old" built_on=...; or leave it',
    ],
)
def test_so_does_one_after_a_colon(text: str) -> None:
    command = text[text.index("bevelbook") :].partition(". Then")[0].partition("; or")[0].rstrip(". ")
    for lines in (wrapped_under(text, 20), wrapped_words(text, 20)):
        assert [line for line in lines if command in line], lines


def test_what_a_terminal_shows_keeps_it_too_in_sentences_cells_and_on_the_card() -> None:
    text = "Which cars go is not written down: 'bevelbook record event-car event=\"spring race\" car=...'."
    set_terminal_width(30)
    try:
        for lines in (
            wrapped(text),
            fitted(text),
            list(table_lines([("cars", text)])),
            [piece for line in wrapped(text, "  ") for piece in fitted(line)],
        ):
            assert [line for line in lines if "'bevelbook record event-car event=\"spring race\" car=...'." in line], (
                lines
            )
    finally:
        set_terminal_width(None)
    card = wrapped_lines(f"{'x ' * 30}{text}", "  ")
    assert [line for line in card if "'bevelbook record event-car event=\"spring race\" car=...'." in line], card


def test_a_name_is_not_broken_at_its_hyphen_and_words_are_where_they_may_be() -> None:
    assert wrapped_under("the build rear-a/12 of it", 12) == ["the build", "rear-a/12 of", "it"]
    assert wrapped_under("it's bevelbook's own, not 'a bevel gear'", 12) == [
        "it's",
        "bevelbook's",
        "own, not 'a",
        "bevel gear'",
    ]


def test_text_for_the_terminal_is_broken_into_lines_in_one_place() -> None:
    """The help of ``bevelbook`` itself is the exception, since it loads nothing; a test compares it with the other."""
    found = {
        path.name
        for path in Path(bevelbook.__file__).parent.rglob("*.py")
        if re.search("textwrap|wrap_text", source := path.read_text(encoding="utf-8"))
        for node in ast.walk(ast.parse(source))
        if (isinstance(node, ast.ImportFrom) and node.module == "textwrap" and {"wrap", "fill"} & names_of(node))
        or (isinstance(node, ast.Attribute) and node.attr == "wrap_text")
    }
    assert found == {"wrapping.py", "help_at_once.py"}


def names_of(node: ast.ImportFrom) -> set[str]:
    """What is imported."""
    return {one.name for one in node.names}


@given(
    st.lists(st.sampled_from(["smooth", "gritty", "thick", "yes", "no"]), min_size=1, max_size=8), st.integers(12, 60)
)
def test_a_box_to_tick_is_whole_and_with_its_word_at_any_width(choices: list[str], width: int) -> None:
    text = f"turned by hand {' '.join(f'[ ] {one}' for one in choices)}"
    for lines in (wrapped_under(text, width), wrapped_words(text, width), hanging(text, width)):
        assert " ".join(line.strip() for line in lines) == text
        assert sum(len(re.findall(r"\[ \] \w", line)) for line in lines) == len(choices), lines


@pytest.mark.parametrize("columns", [30, 40, 80])
def test_what_a_card_wraps_fits_the_terminal_so_that_it_is_wrapped_once(columns: int) -> None:
    set_terminal_width(columns)
    try:
        lines = wrapped_lines("wait until nothing moves any more; " * 8, "        ")
        assert [fitted(line) for line in lines] == [[line] for line in lines]
    finally:
        set_terminal_width(None)


def test_a_number_that_stands_first_keeps_its_heading_where_the_columns_do_not_fit() -> None:
    set_terminal_width(30)
    try:
        found = list(table_lines([("12.39", "1.86")], headings=("on the scale [g]", "still to go [g]"), right={0, 1}))
    finally:
        set_terminal_width(None)
    assert found == ["on the scale [g]: 12.39", "  still to go [g]: 1.86"]
