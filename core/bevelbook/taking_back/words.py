"""Entries and what they wrote, in words."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any, Final

from bevelbook.declare.counting import counted
from bevelbook.declare.fields import Field
from bevelbook.display.format import format_value
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.bench import WRITTEN_AT_THE_BENCH
from bevelbook.records.kept_file_names import called_file
from bevelbook.store.entry_contents import Content, EntryBook, PastEntry, Touch
from bevelbook.store.record_names import is_named_by_label, title_of, with_kind
from bevelbook.store.versions import LABELLED, PLACED

EMPTY: Final = "empty"
SHOWN_OF_A_KIND: Final = 3
"""Records of a kind that are named one by one; more are counted."""
PART_OF: Final = {
    "run_diff": "run",
    "blend_part": "build",
    "seal_fitting": "build",
    "build_part": "build",
    "build_shim": "build",
}
"""Kinds whose records are part of another: they go with it."""
_KIND_WORDS: Final = {
    "run_diff": "diff in run",
    "car_diff": "diff in car",
    "car_value": "value of car",
    "note_reject": "row left out",
}
_FIELD_WORDS: Final = {
    "from_on": "from",
    "from_at": "at",
    "changed": "changed since the run before:",
    "happened": "what happened:",
    "at_step": "next step:",
}
_BESIDE: Final = ("note_file", "note_reject", "note_extra", "calculation")


def kind_words(kind: Kind) -> str:
    """What a sentence calls a kind of record."""
    return _KIND_WORDS.get(kind.name, kind.name.replace("_", " "))


def record_words(connection: sqlite3.Connection, kind: Kind, row_id: str, content: Content | None = None) -> str:
    """A record as a sentence names it: ``run 2026-05-03/1``. One that was removed is named by its last content."""
    title = title_of(connection, kind, row_id)
    if title is None:
        return _from_content(connection, kind, row_id, content or {})
    if kind.name in _KIND_WORDS:
        return f"{_KIND_WORDS[kind.name]} {title}"
    return with_kind(kind, title) if is_named_by_label(kind) else title


def named_by_content(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str:
    """A record whose owner is gone, by that owner's last label and its day: ``weighing of rear-a/2 2026-10-11``."""
    row = connection.execute(f"SELECT * FROM {kind.table} WHERE id = ?", (row_id,)).fetchone()
    return _from_content(connection, kind, row_id, dict(row) if row else {})


def _from_content(connection: sqlite3.Connection, kind: Kind, row_id: str, content: Content) -> str:
    if kind.label is not None and content.get(kind.label):
        return with_kind(kind, str(content[kind.label]))
    joined = BY_NAME.get(str(content.get("kind"))) if kind.name == "join" else None
    if joined is not None:
        one, other = (_label(connection, joined, str(content.get(side))) for side in ("one", "other"))
        return with_kind(kind, f"{joined.name} {one} and {other}")
    owner = next((field for field in kind.fields if field.kind == "reference" and content.get(field.name)), None)
    parts = [kind_words(kind)]
    if owner is not None and owner.target is not None:
        parts.append(f"of {_label(connection, BY_NAME[owner.target], content[owner.name])}")
    day = content.get(kind.day) if kind.day else None
    return " ".join([*parts, str(day)] if day else parts) if len(parts) > 1 or day else f"{parts[0]} {row_id[-6:]}"


def _label(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str:
    """The name of a record, living or removed."""
    title = title_of(connection, kind, row_id)
    if title is not None:
        return title
    states = [state for state in EntryBook(connection).states(kind, row_id) if state.content]
    content = states[-1].content if states else None
    return str((content or {}).get(kind.label or "") or row_id[-6:])


def entry_words(entry: PastEntry | None) -> str:
    """An entry as a sentence names it: ``entry 12 of ana (record run car=blue)``."""
    if entry is None:
        return "another program"
    return f"entry {entry.number}{whose(entry)} ({entry.asked})"


def entry_words_short(entry: PastEntry | None) -> str:
    """The same without what was asked for: ``entry 12 of ana``."""
    return "another program" if entry is None else f"entry {entry.number}{whose(entry)}"


def whose(entry: PastEntry) -> str:
    """The end of a noun that says whose entry it is; nothing where nobody is known."""
    return f" of {entry.made_by}" if entry.made_by else ""


def when(instant: str) -> str:
    """An instant in local time, to the minute; as it is if it is not one."""
    try:
        return datetime.fromisoformat(instant).astimezone().strftime("%Y-%m-%d %H:%M")
    except ValueError:
        return instant


def came_of(connection: sqlite3.Connection, touches: Iterable[Touch], *, backwards: bool = False) -> list[str]:
    """What an entry wrote, a line a record or, for many of a kind, a count.

    With ``backwards``: what taking it back does. What is part of a record that came or went with it is not said, nor
    what belongs to a kept file.
    """
    found = list(touches)
    done = {(one.kind.name, one.row_id): _what(one, backwards) for one in found}
    lines: list[str] = []
    groups: dict[tuple[str, str], list[Touch]] = {}
    for touch in found:
        if touch.kind.name in _BESIDE or _goes_with_owner(touch, done, backwards):
            continue
        groups.setdefault((_what(touch, backwards), touch.kind.name), []).append(touch)
    for (what, _), alike in groups.items():
        settled = [one for one in alike if one.beside]
        lines += [_settled(connection, one, backwards) for one in settled]
        alike = [one for one in alike if not one.beside]
        if what == "changed":
            changes = [_changed(connection, one, backwards) for one in alike]
            lines += [line for line in changes[:SHOWN_OF_A_KIND] if line]
            if len(changes) > SHOWN_OF_A_KIND:
                lines.append(f"changed {_count(len(changes) - SHOWN_OF_A_KIND, alike[0].kind, 'more')}")
        elif len(alike) > SHOWN_OF_A_KIND:
            lines.append(f"{what} {_count(len(alike), alike[0].kind)}")
        else:
            lines += [f"{what} {record_words(connection, one.kind, one.row_id, _content(one))}" for one in alike]
    return [*_of_files(found, backwards), *lines, *_of_results(found, lines, backwards)]


def _count(count: int, kind: Kind, more: str = "") -> str:
    table = kind.table.replace("_", " ") if count != 1 else kind_words(kind)
    return f"{count} {more} {table}".replace("  ", " ")


def _what(touch: Touch, backwards: bool) -> str:
    what = touch.what
    if not backwards:
        return {"restored": "brought back"}.get(what, what)
    return {"added": "removed", "restored": "removed", "removed": "brought back"}.get(what, what)


def _content(touch: Touch) -> Content | None:
    return touch.after.content or (touch.before.content if touch.before else None)


def _goes_with_owner(touch: Touch, done: dict[tuple[str, str], str], backwards: bool) -> bool:
    column = PART_OF.get(touch.kind.name)
    content = _content(touch)
    if column is None or content is None:
        return False
    return done.get((column, str(content.get(column)))) == _what(touch, backwards) != "changed"


def _changed(connection: sqlite3.Connection, touch: Touch, backwards: bool) -> str:
    before, after = (touch.before.content if touch.before else None) or {}, touch.after.content or {}
    if backwards:
        before, after = after, before
    words = changes_in_words(connection, touch.kind, before, after)
    name = record_words(connection, touch.kind, touch.row_id, after)
    return f"changed {name}: {'; '.join(words)}" if words else ""


def _settled(connection: sqlite3.Connection, touch: Touch, backwards: bool) -> str:
    """That an entry settled a clash, with what holds since; taken back it is one again."""
    name = record_words(connection, touch.kind, touch.row_id, _content(touch))
    return f"put {name} back in clash" if backwards else f"settled {name}: {settled_words(connection, touch)}"


def settled_words(connection: sqlite3.Connection, touch: Touch) -> str:
    """What holds since a clash was settled: the fields in which the versions differed, with their values."""
    after = touch.after.content
    if after is None:
        return "removed"
    sides = [one.content for one in (*touch.beside, touch.before) if one is not None]
    if any(one is None for one in sides):
        return "; ".join(["kept", *_values(connection, touch, after, sides)])
    return "; ".join(_values(connection, touch, after, sides)) or "as it is"


def _values(connection: sqlite3.Connection, touch: Touch, after: Content, sides: Sequence[Content | None]) -> list[str]:
    living = [one for one in sides if one is not None]
    aside = _set_aside(touch.kind, after)
    return [
        f"{field_words(field)} {content_value(connection, field, after.get(field.name))}"
        for field in touch.kind.fields
        if field.name not in aside and any(one.get(field.name) != after.get(field.name) for one in living)
    ]


def _set_aside(kind: Kind, content: Content) -> set[str]:
    """The fields of a record from notes that follow from other rows."""
    if not content.get("note_file"):
        return set()
    return {*PLACED.get(kind.name, frozenset()), *({kind.label or ""} if kind.name in LABELLED else ())}


def changes_in_words(connection: sqlite3.Connection, kind: Kind, before: Content, after: Content) -> list[str]:
    """Each field that differs: ``oil mass 1.86 g, was 1.80 g``. What follows from other rows is left out for notes."""
    aside = _set_aside(kind, after)
    return [
        f"{field_words(field)} {content_value(connection, field, after.get(field.name))}"
        + _was(connection, kind, field, before.get(field.name))
        for field in kind.fields
        if before.get(field.name) != after.get(field.name) and field.name not in aside
    ]


def _was(connection: sqlite3.Connection, kind: Kind, field: Field, before: Any) -> str:
    """What a field was before; nothing where the bench wrote down when something was done or what comes next."""
    if before is None and kind.name in WRITTEN_AT_THE_BENCH:
        return ""
    return f", was {content_value(connection, field, before)}"


def field_words(field: Field) -> str:
    """What a sentence calls a field: ``dry mass``."""
    return _FIELD_WORDS.get(field.name) or field.stem.replace("_", " ")


def content_value(connection: sqlite3.Connection, field: Field, value: Any) -> str:
    """A value of a record in words, with the name of what it points to; ``empty`` for None."""
    if value is None:
        return "none" if field.name == "at_step" else EMPTY
    if field.kind == "text" and field.name.endswith("_at"):
        return when(str(value))
    if field.kind == "reference" and field.target:
        return _label(connection, BY_NAME[field.target], str(value))
    return format_value(value, field)


def _of_files(found: list[Touch], backwards: bool) -> Iterator[str]:
    for touch in found:
        if touch.kind.name != "note_file":
            continue
        content = _content(touch) or {}
        name = called_file(content.get("name", touch.row_id), content.get("part"))
        what = _what(touch, backwards)
        if what in ("added", "brought back"):
            rows = f"{counted(content.get('accepted', 0), 'row')} taken, {content.get('rejected', 0)} rejected"
            yield f"{'imported' if what == 'added' else 'brought back the file'} {name}: {rows}"
        elif what == "removed":
            yield f"removed the file {name} with {counted(content.get('accepted', 0), 'row')}"
        else:
            yield f"{'put back the earlier reading of' if backwards else 'read again'} {name}"


def _of_results(found: list[Touch], lines: list[str], backwards: bool) -> Iterator[str]:
    """Kept results are worth a line only where nothing else was written."""
    results = [one for one in found if one.kind.name == "calculation"]
    if results and not lines:
        names = sorted({str((_content(one) or {}).get("calculator")) for one in results})
        yield f"{'removed' if backwards else 'kept'} {counted(len(results), 'result')} of {', '.join(names)}"


def version_words(connection: sqlite3.Connection, touch: Touch) -> str:
    """One version of a record: that it was added, what changed, that it was removed, or what was settled by it."""
    if touch.beside:
        return f"settled: {settled_words(connection, touch)}"
    if touch.what == "changed":
        before, after = (touch.before.content if touch.before else None) or {}, touch.after.content or {}
        return "; ".join(changes_in_words(connection, touch.kind, before, after)) or "no field that people write"
    if touch.what == "removed":
        return "removed"
    content = touch.after.content or {}
    values = [
        f"{field_words(field)} {content_value(connection, field, content[field.name])}"
        for field in touch.kind.fields
        if content.get(field.name) is not None and field.name != touch.kind.label
    ]
    done = "brought back" if touch.what == "restored" else "added"
    return f"{done}: {'; '.join(values)}" if values else done
