"""Questions on a terminal. A script is not asked: it gets an error that names the option that answers."""

from __future__ import annotations

import sys
from collections.abc import Mapping

import click

from bevelbook.cli import print_text
from bevelbook.declare.errors import InputError


def choose(question: str, answers: Mapping[str, str], *, in_a_script: InputError) -> str:
    """Ask until one of the answers is given, and return its key: ``answers`` are words by the key to type.

    Raises ``in_a_script`` where nobody can be asked, because standard input is not a terminal.
    """
    if not sys.stdin.isatty():
        raise in_a_script
    print_text(question, err=True)
    for key, words in answers.items():
        print_text(f"  {key}  {words}", err=True)
    return str(click.prompt("Which", type=click.Choice(list(answers)), show_choices=True, err=True))
