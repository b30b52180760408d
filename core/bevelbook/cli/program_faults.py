"""A fault of the program itself, in words: what it was, what became of the records, and how to see more."""

from __future__ import annotations

from collections.abc import Sequence
from errno import ELOOP, ENAMETOOLONG
from pathlib import Path

import bevelbook
from bevelbook.declare.errors import DatabaseError, InputError, Place, ProgramFault
from bevelbook.declare.in_command import command_of
from bevelbook.plugin.guard import frames_of, one_line

_CORE = Path(bevelbook.__file__).parent
_DEBUG = "--debug"
_NO_COLUMN = "No item with that key"
"""What a row of sqlite3 says where it does not have a column."""
_LONGEST_NAME = 60
_BY_FACTS = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)
"""What is raised where what follows from the records is missing, or is a number without an end."""


def fault_of_program(
    failed: Exception, words: Sequence[str], command: str | None, *, is_unchanged: bool
) -> ProgramFault:
    """The fault for an exception that nobody foresaw; ``words`` are of the command line, ``command`` is None where
    it is not known yet."""
    stored = "Nothing in the database was changed." if is_unchanged else "What was stored before stays stored."
    fault = ProgramFault(
        f"{f'the command {command}' if command else 'the command line'} failed: {one_line(failed)}{_where(failed)}",
        code="program_failed",
        remedy=f"This is a fault of the program; tell us. {stored}",
    )
    if _DEBUG not in words:
        fault.commands = (("To see more", command_of(*_with_debug(words))),)
    return fault


def fault_of_file(failed: Exception, path: Path) -> DatabaseError | None:
    """The fault for what SQLite said of the database's file where nobody had it in words yet; None where the program
    may have asked something wrong."""
    from sqlite3 import Error

    if isinstance(failed, IndexError) and str(failed) == _NO_COLUMN:
        from bevelbook.store.sqlite_errors import lacking_column

        return lacking_column(path)
    if isinstance(failed, _BY_FACTS) and not isinstance(failed, UnicodeDecodeError):
        return _fault_of_facts(path)
    if not isinstance(failed, (Error, UnicodeDecodeError)):
        return None
    from bevelbook.store.sqlite_errors import explained, in_words

    if isinstance(failed, Error):
        said = explained(failed, path)
        return None if said.code == "refused_by_database" else said
    try:
        with in_words(path):
            raise failed
    except DatabaseError as fault:
        return fault
    except UnicodeDecodeError:
        return None


def fault_of_name(failed: Exception) -> InputError | None:
    """The fault for a name that no file can have, such as one that is too long, and for a word of the command that is
    not UTF-8; None for anything else."""
    if isinstance(failed, UnicodeEncodeError) and failed.reason == "surrogates not allowed":
        return InputError(
            "a word of the command is not UTF-8 text",
            code="word_not_utf8",
            found=str(failed.object)[:_LONGEST_NAME],
            remedy="Type it again; call a file with such a name something else.",
        )
    if not isinstance(failed, OSError) or failed.errno not in (ENAMETOOLONG, ELOOP):
        return None
    name = str(failed.filename or "")
    return InputError(
        "no file can be called that" if failed.errno == ENAMETOOLONG else "it is a link that leads back to itself",
        code="no_file",
        found=name if len(name) <= _LONGEST_NAME else f"{name[:_LONGEST_NAME]}…",
        remedy="Check the name.",
    )


def _fault_of_facts(path: Path) -> DatabaseError | None:
    """The fault where another program took something of what follows from the records out, or wrote a number without
    an end into it."""
    from contextlib import closing, suppress
    from sqlite3 import Error

    from bevelbook.facts.impossible import facts_are_endless
    from bevelbook.facts.lacking import facts_are_lacking, fault_of_lacking_facts
    from bevelbook.store.opened_to_read import open_as_it_is

    with suppress(DatabaseError, Error), closing(open_as_it_is(path)) as connection:
        if facts_are_lacking(connection):
            fault = fault_of_lacking_facts()
            fault.place = Place(str(path))
            return fault
        if facts_are_endless(connection):
            return DatabaseError(
                "what follows from the records holds a number without an end, which another program wrote",
                code="impossible_number",
                place=Place(str(path)),
                remedy="It is worked out again by 'bevelbook check --rebuild'. Nothing was changed.",
            )
    return None


def _with_debug(words: Sequence[str]) -> list[str]:
    """The words with one more, before those that are none of ours."""
    at = words.index("--") if "--" in words else len(words)
    return [*words[:at], _DEBUG, *words[at:]]


def _where(failed: Exception) -> str:
    """The last line of ours on the way to it, by the bare name of its file."""
    places = [one for one in frames_of(failed) if Path(one[0]).is_relative_to(_CORE)]
    return f" ({Path(places[-1][0]).name}, line {places[-1][1]})" if places else ""
