"""Questions of a record that is being written: asked on a terminal; a script gets the command that answers."""

from __future__ import annotations

from typing import Final

import click

from bevelbook.cli.asking import choose
from bevelbook.declare.errors import InputError
from bevelbook.declare.printable import printable
from bevelbook.entering.dated_build import ANOTHER_DIFF, CLOSED_AGAIN
from bevelbook.entering.question import Answers, Question

_OIL: Final = "Oil: the fluid's name, or Enter for as before"


def answer(question: Question, asked: str, texts: dict[str, str], answers: Answers) -> Answers:
    """Ask, put what was chosen into ``texts``, and return the answers so far with the new one.

    Raises InputError in a script: each answer with the whole command, ``asked`` and the option that answers.
    """
    words = {str(number): one.words for number, one in enumerate(question.answers, start=1)}
    chosen = choose(question.what, words, in_a_script=_in_a_script(question, asked))
    given = question.answers[int(chosen) - 1]
    if given.instead is not None:
        texts[question.field] = given.instead
    elif given.key == ANOTHER_DIFF:
        texts[question.field] = click.prompt(printable(f"{question.field}: the diff or its build"), err=True)
    else:
        answers = answers._replace(by_field={**answers.by_field, question.field: given.key})
        if given.key == CLOSED_AGAIN and not answers.fluid:
            fluid = click.prompt(_OIL, default="", show_default=False, err=True)
            answers = answers._replace(fluid=fluid.strip() or None)
    return answers


def _in_a_script(question: Question, asked: str) -> InputError:
    ways = []
    for one in question.answers:
        if one.instead is not None:
            ways.append(f"{one.words}: {question.field}={one.instead}")
        elif one.key == ANOTHER_DIFF:
            ways.append(f"{one.words} with {question.field}=...")
        else:
            ways.append(f"{one.words}: bevelbook {asked} --{one.key}")
    fault = InputError(
        question.what,
        code=question.code,
        place=question.place,
        found=question.found,
        remedy=f"{'. '.join(ways)}. Nothing was changed.",
    )
    fault.is_found_said = question.is_found_said
    return fault
