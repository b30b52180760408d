"""What may be typed next, for each argument and each option that has something to offer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

import click
from click.shell_completion import CompletionItem

from bevelbook.cli import names_in_file as in_file
from bevelbook.cli.calc import CalculatorCommand, Calculators, session_of
from bevelbook.cli.files import FileOrDash
from bevelbook.cli.global_options import GlobalOption
from bevelbook.cli.group import Commands
from bevelbook.cli.session import Session
from bevelbook.manual.commands import COMMANDS

if TYPE_CHECKING:
    from bevelbook.declare.fields import Field
    from bevelbook.records import Kind

Item = CompletionItem[str]
_KINDS_FIRST: Final = ("build", "diff")
"""The kinds whose names stand for a build: the name of a diff means its last one."""
_BY_TEXT: Final = ("text",)


class Typed(NamedTuple):
    """What is asked: the words of the argument that are complete, and what is typed of the next."""

    session: Session
    words: tuple[str, ...]
    begun: str

    @property
    def path(self) -> Path:
        """The database."""
        return self.session.path


def offered(ctx: click.Context, asked: click.Command | click.Parameter, begun: str) -> list[Item]:
    """What may be typed next. Nothing of it is written down anywhere, and a file that cannot be read offers nothing."""
    if isinstance(asked, click.Command):
        return [*_of_command(ctx, asked, begun)]
    command = _path_of(ctx)
    value = ctx.params.get(asked.name or "")
    words = tuple(map(str, value)) if isinstance(value, (tuple, list)) and asked.nargs == -1 else ()
    typed = Typed(session_of(ctx), words, begun)
    name = asked.called if isinstance(asked, GlobalOption) else asked.name or ""
    if (command, name) in OFFERED or isinstance(asked, GlobalOption):
        return [*OFFERED[("" if isinstance(asked, GlobalOption) else command, name)](typed)]
    if isinstance(ctx.command, CalculatorCommand):
        choices = [one for field in ctx.command.calculator.inputs if field.name == name for one in field.choices]
        if choices:
            return [*_going_on(((one, "") for one in choices), begun)]
    if isinstance(asked.type, FileOrDash):
        return [Item(begun, type="file")]
    return asked.shell_complete(ctx, begun)


def _of_command(ctx: click.Context, command: click.Command, begun: str) -> Iterable[Item]:
    """The commands of a group, without loading them; the options of one."""
    if begun.startswith("-") or not isinstance(command, (Commands, Calculators)):
        return command.shell_complete(ctx, begun)
    if isinstance(command, Commands):
        return _going_on(COMMANDS.items(), begun)
    calculators = session_of(ctx).loaded.calculators
    return _going_on(((name, calculators[name].calculator.purpose) for name in sorted(calculators)), begun)


def _path_of(ctx: click.Context) -> str:
    """The words of the command; of a calculator the word before its name."""
    names: list[str] = []
    step: click.Context | None = ctx
    while step is not None and step.parent is not None:
        names.insert(0, step.info_name or "")
        step = step.parent
    return " ".join(names[:1] if isinstance(ctx.command, CalculatorCommand) else names)


def _going_on(words: Iterable[tuple[str, str]], begun: str, *, part: bool = False) -> Iterator[Item]:
    for word, about in words:
        if word.startswith(begun):
            yield Item(word, help=about or None, is_part=part)


def _plain(words: Iterable[str], before: str = "") -> Iterator[Item]:
    for word in words:
        yield Item(before + word)


def _labelled(*kinds: str) -> Callable[[Typed], Iterator[Item]]:
    """The names of records of these kinds."""

    def found(typed: Typed) -> Iterator[Item]:
        from bevelbook.records import BY_NAME

        for kind in kinds:
            yield from _plain(in_file.labels(typed.path, BY_NAME[kind], typed.begun))

    return found


def _names(kind: str) -> Callable[[Typed], Iterator[Item]]:
    """The names of records that have no label of their own."""

    def found(typed: Typed) -> Iterator[Item]:
        from bevelbook.records import BY_NAME

        yield from _plain(in_file.names(typed.path, BY_NAME[kind], typed.begun))

    return found


def _words(*words: str) -> Callable[[Typed], Iterator[Item]]:
    return lambda typed: _going_on(((word, "") for word in words), typed.begun)


def _both(*each: Callable[[Typed], Iterator[Item]]) -> Callable[[Typed], Iterator[Item]]:
    def found(typed: Typed) -> Iterator[Item]:
        for one in each:
            yield from one(typed)

    return found


def _shell(kind: str) -> Callable[[Typed], Iterator[Item]]:
    """What the shell itself knows: ``file`` or ``dir``."""
    return lambda typed: iter([Item(typed.begun, type=kind)])


def _kinds(typed: Typed) -> Iterator[Item]:
    """The kinds of record that people write."""
    from bevelbook.records import KINDS

    return _going_on(((kind.name.replace("_", "-"), kind.about) for kind in KINDS if kind.own), typed.begun)


def _kind_named(words: tuple[str, ...]) -> tuple[Kind | None, tuple[str, ...]]:
    """The kind that the first words name, and the words after it."""
    from bevelbook.declare.errors import UnknownNameError
    from bevelbook.records import kind_called, kind_in

    count = kind_in(words)
    try:
        return kind_called(" ".join(words[: count or 1])), words[count or 1 :]
    except UnknownNameError:
        return None, words


def _of_record(typed: Typed) -> Iterator[Item]:
    """``record``: a kind, then the name of one, then fields, then what may stand behind a field."""
    from bevelbook.entering.typed_fields import typed_fields

    if not typed.words:
        yield from _kinds(typed)
        return
    kind, words = _kind_named(typed.words)
    if kind is None:
        return
    key, equals, _ = typed.begun.partition("=")
    if equals:
        yield from _values(typed, kind, key)
        return
    if not words:
        yield from _plain(in_file.names(typed.path, kind, typed.begun))
    given = {word.partition("=")[0].replace("-", "_") for word in words}
    fields = [one for one in typed_fields(kind) if given.isdisjoint((one.name, one.stem))]
    yield from _going_on(((f"{one.stem}=", one.described()) for one in fields), typed.begun, part=True)


def _values(typed: Typed, kind: Kind, key: str) -> Iterator[Item]:
    """What may stand behind ``key=``."""
    from bevelbook.entering.typed_fields import typed_fields

    begun = typed.begun[len(key) + 1 :]
    name = key.strip().replace("-", "_")
    for field in typed_fields(kind):
        if name in (field.name, field.stem):
            yield from _plain(_values_of(typed.path, field, begun), f"{key}=")


def _values_of(path: Path, field: Field, begun: str) -> list[str]:
    from bevelbook.records import BY_NAME

    if field.target is not None:
        found = in_file.names(path, BY_NAME[field.target], begun)
        return found + (in_file.labels(path, BY_NAME["diff"], begun) if field.target == "build" else [])
    choices = field.choices or (("today",) if field.kind == "date" else ())
    return [one for one in choices if one.startswith(begun)]


def _record_or_kind(typed: Typed) -> Iterator[Item]:
    """``history``: a build or a diff; or a kind, and a record of it."""
    if not typed.words:
        yield from _both(_labelled(*_KINDS_FIRST), _kinds)(typed)
        return
    kind, words = _kind_named(typed.words)
    if kind is not None and not words:
        yield from _plain(in_file.names(typed.path, kind, typed.begun))


def _to_erase(typed: Typed) -> Iterator[Item]:
    if not typed.words:
        yield from _kinds(typed)
        return
    kind, words = _kind_named(typed.words)
    if kind is None or len(words) > 1:
        return
    if not words:
        yield from _plain(in_file.names(typed.path, kind, typed.begun))
    else:
        texts = ((one.stem, one.described()) for one in kind.fields if one.kind in _BY_TEXT)
        yield from _going_on(texts, typed.begun)


def _to_join(typed: Typed) -> Iterator[Item]:
    from bevelbook.records.joins import JOINED_KINDS

    if not typed.words:
        yield from _words(*JOINED_KINDS)(typed)
    elif typed.words[0] in JOINED_KINDS and len(typed.words) < 3:
        yield from _labelled(typed.words[0])(typed)


def _subjects(typed: Typed) -> Iterator[Item]:
    """``--for``: a build or a diff; or a kind, a colon and a record of it."""
    from bevelbook.records import BY_NAME

    name, colon, begun = typed.begun.partition(":")
    kind = BY_NAME.get(name.replace("-", "_"))
    if colon and kind is not None:
        yield from _plain(in_file.names(typed.path, kind, begun), f"{name}:")
    yield from _labelled(*_KINDS_FIRST)(typed)
    if typed.begun and not colon:
        yield from _going_on(((f"{one.value}:", one.help or "") for one in _kinds(typed)), typed.begun, part=True)


def _topics(typed: Typed) -> Iterator[Item]:
    from bevelbook.manual.topic_list import TOPICS

    if not typed.words:
        yield from _going_on(TOPICS.items(), typed.begun)
    elif typed.words == ("tables",):
        from bevelbook.records import KINDS

        yield from _going_on(((kind.table, kind.title) for kind in KINDS), typed.begun)
        yield from _plain(in_file.views(typed.path, typed.begun))
    elif typed.words == ("calculators",):
        found = typed.session.loaded.calculators
        yield from _going_on(((name, found[name].calculator.purpose) for name in sorted(found)), typed.begun)
    elif typed.words == ("hooks",):
        from bevelbook.plugin.registry import HOOKS

        yield from _going_on(((name, "") for name in HOOKS), typed.begun)


def _tables(typed: Typed) -> Iterator[Item]:
    from bevelbook.records import KINDS

    yield from _going_on(((kind.table, kind.title) for kind in KINDS if not kind.derived), typed.begun)
    yield from _plain(in_file.views(typed.path, typed.begun))


def _plugins(typed: Typed) -> Iterator[Item]:
    """``plugin check``: an installed plugin, without loading it, or a file."""
    from bevelbook.plugin.registry import installed

    yield from _going_on(((point.name, "") for point in sorted(installed(), key=lambda one: one.name)), typed.begun)
    yield Item(typed.begun, type="file")


def _entries(typed: Typed) -> Iterator[Item]:
    return _going_on(in_file.entries(typed.path, typed.begun), typed.begun)


def _people(typed: Typed) -> Iterator[Item]:
    return _plain(in_file.people(typed.path, typed.begun))


_BUILDS: Final = _labelled(*_KINDS_FIRST)
OFFERED: Final[dict[tuple[str, str], Callable[[Typed], Iterator[Item]]]] = {
    ("", "--db"): _shell("file"),
    ("", "--by"): _people,
    ("", "--plugins"): _shell("dir"),
    ("calc", "subjects"): _subjects,
    ("calc", "every"): _kinds,
    ("record", "words"): _of_record,
    ("record", "fluid"): _labelled("fluid"),
    ("card", "build"): _BUILDS,
    ("card", "car"): _labelled("car"),
    ("compare", "a"): _BUILDS,
    ("compare", "b"): _BUILDS,
    ("check", "diff"): _labelled("diff"),
    ("plan", "event"): _labelled("event"),
    ("plan", "against"): _both(_words("last"), _names("plan")),
    ("calls", "venue"): _labelled("venue"),
    ("calls", "diff"): _labelled("diff"),
    ("history", "words"): _record_or_kind,
    ("take-back", "named"): _entries,
    ("take-back", "of"): _people,
    ("erase", "words"): _to_erase,
    ("join", "words"): _to_join,
    ("scale-check", "scale"): _labelled("scale"),
    ("labels", "what"): _both(_words("bags", "bottles", "tins"), _BUILDS, _labelled("fluid")),
    ("export", "table"): _tables,
    ("help", "topic"): _topics,
    ("plugin check", "targets"): _plugins,
    ("plugin new", "folder"): _shell("dir"),
    ("backup", "folder"): _shell("dir"),
}
"""What is offered, by the words of the command and the name of its parameter; of options of every command by theirs."""
