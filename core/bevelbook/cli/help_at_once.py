"""The help of ``bevelbook`` itself, without loading what runs commands: those who ask for it want to read it now.

It is what Click makes of the same declarations, line for line; a test compares the two.
"""

from __future__ import annotations

import os
import sys

from bevelbook.manual.commands import ABOUT, COMMANDS, OPTIONS, SHORT_OPTIONS, VALUES, WIDEST

_USUAL_WIDTH = 78
_NARROWEST = 60
"""Columns from which no word of the first line goes on in the next."""
_FIRST_AT_MOST = 30
"""Columns that the first of two takes at most."""
_OWN = {"--version": "Show the version and exit.", "-h, --help": "Show this message and exit."}


def print_help() -> bool:
    """Print the help; False where that did not go as foreseen, and Click is to say what there is to say."""
    width = _width()
    if sys.stdout is None or width < _NARROWEST or "_BEVELBOOK_COMPLETE" in os.environ:
        return False
    try:
        sys.stdout.write(help_text(width))
        sys.stdout.flush()
    except BrokenPipeError:
        from bevelbook.cli import print_no_more

        print_no_more()
    except OSError:
        return False
    return True


def _width() -> int:
    """Columns that a line may take; 0 where whoever set them did not say a number."""
    said = os.environ.get("COLUMNS", "")
    if said:
        return min(int(said), WIDEST) if said.isdecimal() else 0
    try:
        return min(os.get_terminal_size(sys.stdout.fileno()).columns, WIDEST)
    except (OSError, ValueError, AttributeError):
        return _USUAL_WIDTH


def help_text(width: int) -> str:
    """The help in lines of so many columns."""
    options = {}
    for name, about in OPTIONS.items():
        words = ", ".join(filter(None, (SHORT_OPTIONS.get(name), name)))
        options[f"{words} {VALUES[name]}" if name in VALUES else words] = about
    parts = [
        "Usage: bevelbook [OPTIONS] COMMAND [ARGS]...",
        "\n".join(_wrapped(ABOUT, width, "  ")),
        "Options:\n" + _in_two_columns(options | _OWN, width),
        "Commands:\n" + _in_two_columns(COMMANDS, width),
    ]
    return "\n\n".join(parts) + "\n"


def _in_two_columns(said: dict[str, str], width: int) -> str:
    first = min(max(map(len, said)), _FIRST_AT_MOST) + 2
    lines = []
    for name, about in said.items():
        texts = _wrapped(about, max(width - first - 2, 10), "")
        lines += [f"  {name:<{first}}{texts[0]}", *(" " * (first + 2) + one for one in texts[1:])]
    return "\n".join(lines)


def _wrapped(text: str, width: int, indent: str) -> list[str]:
    from textwrap import wrap

    return wrap(text, width, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False)
