"""The generated parts of DEVELOPERS.md, made from the objects they describe (cog calls these)."""

from __future__ import annotations

import inspect
import tomllib
from collections.abc import Iterable, Sequence
from importlib import import_module
from pathlib import Path

from bevelbook.manual.glossary import GLOSSARY
from bevelbook.manual.tables import PROMISE, PROMISED, listed
from bevelbook.plugin import hookspecs
from bevelbook.plugin.api import API_VERSION, DEPRECATED
from bevelbook.plugin.registry import HOOKS

ROOT = Path(__file__).parent.parent


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
    rows = [(f"`{signature_of(name)}`", _first_line(getattr(hookspecs, name))) for name in HOOKS]
    return table(("hook", "what it gives"), rows)


def signature_of(hook: str) -> str:
    """A hook as it is written: its name with the names of its arguments."""
    return f"{hook}({', '.join(inspect.signature(getattr(hookspecs, hook)).parameters)})"


def bundled_users(hook: str) -> list[str]:
    """The files of the bundled plugins that use a hook, by the entry points that are declared for them."""
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    modules = sorted(declared["project"]["entry-points"]["bevelbook"].values())
    return [f"{name.replace('.', '/')}.py" for name in modules if hasattr(import_module(name), hook)]


def api() -> str:
    """The version of what a plugin may use, and what is deprecated."""
    return f"What a plugin may use, the façade and the hooks, has version {API_VERSION}. {deprecations()}"


def deprecations() -> str:
    """What of the façade is deprecated or gone."""
    rows = [(f"`{one.name}`", one.since, one.gone_in, one.instead) for one in DEPRECATED.values()]
    return table(("name", "deprecated since", "gone in", "instead"), rows) if rows else "Nothing is deprecated."


def _first_line(function: object) -> str:
    return (inspect.getdoc(function) or "").splitlines()[0]
