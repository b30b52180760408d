"""The generated parts of DEVELOPERS.md, made from the objects they describe (cog calls these)."""

from __future__ import annotations

import inspect
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from importlib import import_module
from pathlib import Path

from bevelbook.manual.contents import Entries, Paragraph
from bevelbook.manual.docstrings import blocks_of, example_of
from bevelbook.manual.glossary import GLOSSARY
from bevelbook.manual.hooks import names_to_import, signature_of
from bevelbook.manual.tables import PROMISE, PROMISED, listed
from bevelbook.plugin import hookspecs
from bevelbook.plugin.api import API_VERSION, DEPRECATED
from bevelbook.plugin.registry import HOOKS

ROOT = Path(__file__).parent.parent
OWN_SECTION = {
    "bevelbook_checks": "Add a check",
    "bevelbook_charts": "Add a chart",
}
"""The hooks whose example stands in a section that says more of them."""


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
    """Every hook from its docstring, with the bundled plugins that use it; the example of each that has a section of
    its own stands there."""
    parts = []
    for name in HOOKS:
        hook = getattr(hookspecs, name)
        users = ", ".join(f"`{one}`" for one in bundled_users(name))
        parts += [f"### `{signature_of(name)}`", "", *_prose(hook), f"Bundled: {users}.", ""]
        parts += [f'Example: see "{OWN_SECTION[name]}".', ""] if name in OWN_SECTION else [example(name), ""]
    return "\n".join(parts).rstrip()


def example(hook: str) -> str:
    """The files of the example in the docstring of a hook."""
    parts = []
    for file in example_of(getattr(hookspecs, hook)):
        language = file.name.rpartition(".")[2] or "python"
        parts += [f"Beside it `{file.name}`:", ""] if file.name else []
        parts += [f"```{language}\n{file.text}```", ""]
    return "\n".join(parts).rstrip()


def names() -> str:
    """Every name that a plugin may import, with the first sentence of its docstring."""
    return table(("name", "what it is"), ((f"`{one.name}`", one.summary) for one in names_to_import().values()))


def _prose(hook: object) -> Iterator[str]:
    """A docstring without its example."""
    for block in blocks_of(inspect.getdoc(hook) or ""):
        if isinstance(block, Paragraph) and not block.text.endswith(":"):
            yield from (block.text, "")
        elif isinstance(block, Entries):
            yield from (*(f"- `{one.term}`: {one.words}" for one in block.entries), "")


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
