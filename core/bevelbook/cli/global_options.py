"""The options that every command takes: before it, after it, or between a group and its subcommand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

import click

from bevelbook.cli.copied_commands import name_database, name_person, name_plugins
from bevelbook.cli.help_format import HelpContext
from bevelbook.cli.how_much_is_said import be_quiet, show_tracebacks
from bevelbook.manual.commands import OPTIONS, SHORT_OPTIONS, VALUES

GIVEN: Final = f"{__name__}.given"
"""The key of what was given on the command line, by the option's name."""
ASKED: Final = f"{__name__}.asked"
"""The key of the words from the command on, without these options."""
DEFAULT_DATABASE: Final = "bevelbook.db"


class GlobalOption(click.Option):
    """One of them. Only the help of ``bevelbook`` itself explains it; that of a command names it at the end."""

    def __init__(self, name: str) -> None:
        self.called = name
        metavar = VALUES.get(name)
        more: dict[str, Any] = {"is_flag": True} if metavar is None else {"metavar": metavar, "multiple": True}
        super().__init__(
            [*filter(None, (SHORT_OPTIONS.get(name), name)), f"global_{name.strip('-')}"],
            expose_value=False,
            callback=_took,
            help=OPTIONS[name],
            **more,
        )

    @property
    def shown(self) -> str:
        """It as the help of a command names it."""
        return " ".join(filter(None, (SHORT_OPTIONS.get(self.called, self.called), VALUES.get(self.called))))

    def get_help_record(self, ctx: click.Context) -> tuple[str, str] | None:
        return super().get_help_record(ctx) if ctx.parent is None else None

    def take(self, ctx: click.Context, value: str) -> None:
        """Have it hold from now on. Raises UsageError if it was given with another value."""
        given = ctx.meta.setdefault(GIVEN, {})
        held = given.setdefault(self.called, value)
        if held != value and not ctx.resilient_parsing:
            raise click.UsageError(f"Give {self.called} once: it was given as {held!r} and as {value!r}.", ctx)
        if self.called == "--db":
            name_database(held)
        elif self.called == "--plugins":
            name_plugins(held)
        elif self.called == "--by":
            name_person(held)
        elif self.called == "--quiet":
            be_quiet(True)
        elif self.called == "--debug":
            show_tracebacks(True)
        if ctx.obj is not None:
            ctx.obj.take_given(given)


def global_options(ctx: click.Context) -> list[click.Option]:
    """All of them, and what asks for help: for words of which it is not known yet what takes them."""
    return [*map(GlobalOption, OPTIONS), click.Option(ctx.help_option_names, is_flag=True)]


def _took(ctx: click.Context, param: click.Parameter, value: Any) -> None:
    assert isinstance(param, GlobalOption)
    for one in value if isinstance(value, tuple) else [""] if value else []:
        param.take(ctx, one)
    if value and ctx.parent is not None and ctx.obj is not None:
        ctx.obj.asked_words = without_globals(ctx.meta.get(ASKED, ()), _chain(ctx))


def take_globals(command: click.Command) -> click.Command:
    """Have a command, and those of a group, take these options too. One of its own of that name keeps its meaning."""
    if any(isinstance(param, GlobalOption) for param in command.params):
        return command
    command.context_class = HelpContext
    own = {name for param in command.params for name in (*param.opts, *param.secondary_opts)}
    added = [one for one in map(GlobalOption, OPTIONS) if own.isdisjoint(one.opts)]
    command.params = [*command.params, *added]
    names = f"Taken by every command, before it or here: {', '.join(one.shown for one in added)}."
    also = f"{names} 'bevelbook --help' explains them."
    command.epilog = f"{command.epilog}\n\n{also}" if command.epilog else also
    for one in command.commands.values() if isinstance(command, click.Group) else ():
        take_globals(one)
    return command


class WordsRead(NamedTuple):
    """Some words of a command line that go together: an option with its value, or one word; the global option if it is
    one, with its value, else None. ``is_name`` marks what is not an option."""

    words: tuple[str, ...]
    option: GlobalOption | None = None
    value: str = ""
    is_name: bool = False


def in_words(words: Sequence[str], params: Sequence[click.Parameter], *, takes_value: bool) -> Iterator[WordsRead]:
    """The words after a command, as its options take them; ``takes_value`` says it of options that it does not know.
    What follows ``--`` is none."""
    known: Mapping[str, click.Option] = {
        name: one for one in params if isinstance(one, click.Option) for name in (*one.opts, *one.secondary_opts)
    }
    left = [*words]
    while left:
        word = left.pop(0)
        if word == "--":
            yield WordsRead((word, *left), is_name=True)
            return
        if not word.startswith("-") or word == "-":
            yield WordsRead((word,), is_name=True)
            continue
        name, is_joined, value = word.partition("=")
        option = known.get(name)
        count = int(takes_value and word.startswith("--")) if option is None else _values_of(option)
        values = [value] if is_joined else []
        while left and len(values) < count:
            values.append(left.pop(0))
        taken = (word, *values[1 if is_joined else 0 :])
        yield WordsRead(taken, option if isinstance(option, GlobalOption) else None, values[0] if values else "")


def _values_of(option: click.Option) -> int:
    return 0 if option.is_flag or option.count else option.nargs


def without_globals(words: Sequence[str], commands: Sequence[click.Command]) -> list[str]:
    """The words from a command on without these options: ``commands`` is that command and, of a group, the next."""
    if not words or not commands:
        return [*words]
    kept, left = [words[0]], [*words[1:]]
    for command in commands:
        is_group = isinstance(command, click.Group)
        read = in_words(left, command.params, takes_value=False)
        for one in read:
            if one.option is None:
                kept += one.words
            if one.is_name and is_group:
                break
        left = [word for one in read for word in one.words] if is_group else []
    return kept + left


def _chain(ctx: click.Context) -> list[click.Command]:
    """The commands from the first after ``bevelbook`` down to that of the context."""
    found: list[click.Command] = []
    step: click.Context | None = ctx
    while step is not None and step.parent is not None:
        found.insert(0, step.command)
        step = step.parent
    return found
