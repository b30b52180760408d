"""Datasettes that cost a test process less: each template is compiled once, and no traceback is drawn for an answer.

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


def make_datasettes_quick() -> None:
    """Have all Datasettes that this process opens from now on compile a template once, and draw no traceback.

    Where ``rich`` is there, as it is with our checkers, Datasette draws one with all its values for each answer of 400
    and up, which takes ten times as long as the answer.
    """
    from datasette.plugins import pm

    if not pm.has_plugin(__name__):
        pm.register(_KeepsCompiled(), __name__)
    drawing = pm.get_plugin("datasette.handle_exception")
    assert drawing is not None
    drawing.rich = None
