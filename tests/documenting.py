"""The generated parts of DEVELOPERS.md, made from the objects they describe (cog calls these)."""

from __future__ import annotations

import inspect
from collections.abc import Iterable, Sequence

from bevelbook.manual.glossary import GLOSSARY
from bevelbook.manual.tables import PROMISE, PROMISED, listed
from bevelbook.plugin import hookspecs
from bevelbook.plugin.api import API_VERSION, DEPRECATED
from bevelbook.plugin.registry import HOOKS


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of Markdown."""
    lines = ["| " + " | ".join(heads) + " |", "|" + " --- |" * len(heads)]
    lines += ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows]
    return "\n".join(lines)


def glossary() -> str:
    """The project's words, under their headings."""
    parts = []
    for heading, words in GLOSSARY.items():
        parts.append(f"**{heading}**\n")
        parts += [f"- *{word}*: {sentence}" for word, sentence in words.items()]
        parts.append("")
    return "\n".join(parts).rstrip()


def promise() -> str:
    """Which tables and views a plugin may rely on, and what that means."""
    names = ", ".join(f"`{name}`" for name in listed() if name in PROMISED)
    return "\n".join([f"Promised are {names}.", "", *(f"- {line}" for line in PROMISE)])


def hooks() -> str:
    """Every hook with its line of explanation."""
    rows = []
    for name in HOOKS:
        function = getattr(hookspecs, name)
        taken = ", ".join(inspect.signature(function).parameters)
        rows.append((f"`{name}({taken})`", _first_line(function)))
    return table(("hook", "what it gives"), rows)


def api() -> str:
    """The version of what a plugin may use, and what is deprecated."""
    return f"What a plugin may use, the façade and the hooks, has version {API_VERSION}. {deprecations()}"


def deprecations() -> str:
    """What of the façade is deprecated or gone."""
    rows = [(f"`{one.name}`", one.since, one.gone_in, one.instead) for one in DEPRECATED.values()]
    return table(("name", "deprecated since", "gone in", "instead"), rows) if rows else "Nothing is deprecated."


def _first_line(function: object) -> str:
    return (inspect.getdoc(function) or "").splitlines()[0]
