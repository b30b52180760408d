"""Templates compiled once for a process, however many Datasettes its tests open: most of what opening one costs.

Each Datasette still loads and renders the templates of its own folders: what is kept goes by file and by its text.
"""

from __future__ import annotations

from typing import Any

from pluggy import HookimplMarker

from bevelbook.web.host.compiled_templates import CompiledTemplates


class _KeepsCompiled:
    """A plugin of Datasette."""

    __name__ = __name__
    compiled = CompiledTemplates()

    @HookimplMarker("datasette")
    def prepare_jinja2_environment(self, env: Any) -> None:
        env.bytecode_cache = self.compiled


def compile_once() -> None:
    """Have all Datasettes that this process opens from now on compile a template once."""
    from datasette.plugins import pm

    if not pm.has_plugin(__name__):
        pm.register(_KeepsCompiled(), __name__)
