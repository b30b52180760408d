"""Templates compiled once for a process, however many Datasettes its tests open: most of what opening one costs.

Each Datasette still loads and renders the templates of its own folders: what is kept goes by file and by its text.
"""

from __future__ import annotations

from types import CodeType
from typing import Any

from jinja2.bccache import Bucket, BytecodeCache
from pluggy import HookimplMarker


class _Compiled(BytecodeCache):
    """Compiled templates by file and text, in memory."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], CodeType | None] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        bucket.code = self._kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._kept[bucket.key, bucket.checksum] = bucket.code


class _KeepsCompiled:
    """A plugin of Datasette."""

    __name__ = __name__
    compiled = _Compiled()

    @HookimplMarker("datasette")
    def prepare_jinja2_environment(self, env: Any) -> None:
        env.bytecode_cache = self.compiled


def compile_once() -> None:
    """Have all Datasettes that this process opens from now on compile a template once."""
    from datasette.plugins import pm

    if not pm.has_plugin(__name__):
        pm.register(_KeepsCompiled(), __name__)
