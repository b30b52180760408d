"""Our versions of Datasette's templates, on the pages of our databases and on ``/``; all other pages keep Datasette's.

They lie in ``datasette_templates`` and have two names. ``bevelbook:table.html`` is always ours, and
``default:table.html`` always Datasette's. ``table-team-builds.html`` is what Datasette asks for before ``table.html``
on a page of the database "team", so that only its pages are ours. A folder given with ``--template-dir`` goes first.
"""

from __future__ import annotations

from collections.abc import Callable, MutableMapping
from pathlib import Path
from typing import Any, Final

from jinja2 import BaseLoader, ChoiceLoader, Environment, FileSystemLoader, PrefixLoader, Template, TemplateNotFound

from bevelbook.display.begun import begun
from bevelbook.web.host.compiled_templates import CompiledTemplates
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.private_datasette import name_in_templates, own_template_folder

FOLDER: Final = Path(__file__).parent / "datasette_templates"
OF_A_DATABASE: Final = ("database", "table", "row", "query", "_table-row", "_table-table", "_table")
"""What the name of a template of one database begins with; the first that fits counts."""


class TemplatesOfOurDatabases(BaseLoader):
    """Finds our template under the name that Datasette has for one database of ours."""

    def __init__(self, datasette: Any) -> None:
        self._datasette = datasette
        self._files = FileSystemLoader(FOLDER)

    def load(self, environment: Environment, name: str, globals: MutableMapping[str, Any] | None = None) -> Template:
        """The template under the name that was asked for, compiled under that of its file, so once for all tables."""
        template = self._files.load(environment, self._file_of(name), globals)
        template.name = name
        return template

    def get_source(self, environment: Environment, template: str) -> tuple[str, str, Callable[[], bool]]:
        file = FOLDER / self._file_of(template)
        return file.read_text(encoding="utf-8"), str(file), lambda: True

    def list_templates(self) -> list[str]:
        """None: they have no names of their own."""
        return []

    def _file_of(self, template: str) -> str:
        found = "index.html" if template == "index.html" else self._of_a_database(template)
        users = own_template_folder(self._datasette)
        if found is None or (users and any((users / name).exists() for name in (template, found))):
            raise TemplateNotFound(template)
        return found

    def _of_a_database(self, template: str) -> str | None:
        start = next((one for one in OF_A_DATABASE if template.startswith(f"{one}-")), None)
        if start is None:
            return None
        rest = template.removeprefix(f"{start}-").removesuffix(".html")
        fitting = [
            name
            for name in self._datasette.databases
            if rest == name_in_templates(name) or rest.startswith(f"{name_in_templates(name)}-")
        ]
        longest = max(fitting, key=lambda name: len(name_in_templates(name)), default=None)
        return (
            f"{start.partition('-')[0]}.html" if longest in state_of(self._datasette).names(self._datasette) else None
        )


def prepare_templates(env: Environment, datasette: Any) -> None:
    """Add ours where Datasette has a bevelbook database."""
    env.filters["begun"] = begun
    if not state_of(datasette).names(datasette) or env.loader is None:
        return
    env.bytecode_cache = env.bytecode_cache or CompiledTemplates()
    always = PrefixLoader({"bevelbook": FileSystemLoader(FOLDER)}, delimiter=":")
    env.loader = ChoiceLoader([TemplatesOfOurDatabases(datasette), env.loader, always])
