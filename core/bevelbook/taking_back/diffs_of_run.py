"""Which diffs a run had, in words beside the versions of the run: each is a record of its own."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from bevelbook.display.spans import span_in_words
from bevelbook.records import BY_NAME
from bevelbook.store.entry_contents import Content, EntryBook, Touch, touch_by
from bevelbook.taking_back.words import changes_in_words, content_value

_KIND = BY_NAME["run_diff"]
_OF_RUN = """
SELECT id FROM run_diffs WHERE run = :run UNION
SELECT row_id FROM history WHERE table_name = 'run_diffs'
AND iif(json_valid(content), json_extract(content, '$.run'), NULL) = :run ORDER BY 1
"""


def diffs_by_entry(connection: sqlite3.Connection, entries: EntryBook, run: str) -> dict[str | None, list[str]]:
    """What was written of the diffs in a run (by id), by the entry that wrote it: ``rear a/1, 38 °C``.

    None stands for other programs.
    """
    found: dict[str | None, list[str]] = {}
    for row in connection.execute(_OF_RUN, {"run": run}).fetchall():
        states = entries.states(_KIND, row[0])
        for place, state in enumerate(states):
            one = touch_by(_KIND, row[0], [*states[max(0, place - 1) : place], state._replace(author="here")], "here")
            if one is not None and (words := _words(connection, one)):
                found.setdefault(state.author, []).append(words)
    return found


def _words(connection: sqlite3.Connection, touch: Touch) -> str:
    before, after = (touch.before.content if touch.before else None) or {}, touch.after.content or {}
    if touch.what == "removed":
        return f"{_named(connection, before)} taken out"
    if touch.what == "changed":
        changes = changes_in_words(connection, _KIND, before, after)
        return f"{after.get('position') or 'place not said'}: {', '.join(changes)}" if changes else ""
    return ", ".join([_named(connection, after), *_measured(connection, after)])


def _measured(connection: sqlite3.Connection, content: Content) -> Iterator[str]:
    """What was read, each with its time after the run: ``38.0 °C after 2 min``."""
    for temperature, beside, after in (
        ("diff_temp_c", "temp_taken", "after_run_s"),
        ("second_diff_temp_c", None, "second_after_run_s"),
    ):
        seconds = content.get(after)
        value = _shown(connection, temperature, content) if content.get(temperature) is not None else ""
        when = f"after {span_in_words(seconds)}" if isinstance(seconds, (int, float)) else ""
        if value or when:
            yield f"{value} {when}".strip()
        if beside and content.get(beside) is not None:
            yield _shown(connection, beside, content)


def _named(connection: sqlite3.Connection, content: Content) -> str:
    return f"{content.get('position') or 'place not said'} {_shown(connection, 'build', content)}"


def _shown(connection: sqlite3.Connection, name: str, content: Content) -> str:
    return content_value(connection, _KIND.field(name), content.get(name))
