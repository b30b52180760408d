"""A name as one word of a command that is printed for people to copy."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterable
from typing import Final

_ODD: Final = '"$`\\!'
"""Signs that mean something to a shell also in double quotes."""


def in_command(text: str) -> str:
    r"""A text as one word of a command, in double quotes where it needs any: in a sentence a command stands in single
    ones, and what is between these is copied. Whoever copies those too runs nothing that is in a name: no sign that a
    shell would follow stands without its backslash.

    >>> print(in_command("rear-a/3"), in_command("rear A"), in_command("bo's tin"))
    rear-a/3 "rear A" "bo's tin"
    >>> print(in_command("cost $5"), in_command('the "old" one'))
    "cost "\$5 "the "\"old\"" one"
    """
    if text == "":
        return '""'
    parts = re.split(f"([{re.escape(_ODD)}])", text)
    return "".join(f"\\{part}" if part in _ODD else _quoted(part) for part in parts if part)


def _quoted(part: str) -> str:
    return part if shlex.quote(part) == part else f'"{part}"'


def words_of_command(words: Iterable[str]) -> str:
    """Words as they are typed behind one another, so that a shell, and :func:`shlex.split`, gives them back.

    >>> print(words_of_command(["record", "run", "lap_times=18.4 18.5", ""]))
    record run "lap_times=18.4 18.5" ""
    """
    return " ".join(map(in_command, words))


def command_of(*words: str) -> str:
    """A whole command of these words, to stand in a sentence.

    >>> print(command_of("record", "build", "rear A", "dry_mass=..."))
    bevelbook record build "rear A" dry_mass=...
    """
    return words_of_command(["bevelbook", *words])


def asked_again(asked: str, *more: str) -> str:
    """A command as it was typed, without ``bevelbook`` before it, to be copied with other words behind it. An option
    among these takes the place of the one that was given.

    >>> print(asked_again("enter --host 0.0.0.0 --port=8002 --name 'the van'", "--port", "8003"))
    bevelbook enter --host 0.0.0.0 --name "the van" --port 8003
    >>> print(asked_again("serve --host 192.0.2.7 --no-sql", "--host", "0.0.0.0"), asked_again("edition out", "--yes"))
    bevelbook serve --no-sql --host 0.0.0.0 bevelbook edition out --yes
    """
    options = {one: at + 1 < len(more) and not more[at + 1].startswith("--") for at, one in enumerate(more)}
    kept: list[str] = []
    words = iter(shlex.split(asked))
    for word in words:
        name, _, value = word.partition("=")
        if not (name.startswith("--") and name in options):
            kept.append(word)
        elif options[name] and not value:
            next(words, None)
    return command_of(*kept, *more)
