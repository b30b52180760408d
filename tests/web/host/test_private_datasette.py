"""What Datasette's documentation does not promise is used in one module."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from bevelbook.web.host import private_datasette

HOST = Path(private_datasette.__file__)
WEB = HOST.parent.parent
DOCUMENTED = {
    "datasette.app": {"Datasette"},
    "datasette.database": {"Database"},
    "datasette.utils": {"tilde_decode", "tilde_encode"},
    "datasette.utils.asgi": {"Forbidden", "NotFound", "Response"},
}
"""What its pages "Internals for plugins" and "Writing plugins" describe, by module."""
UNDOCUMENTED = {"app_css_hash", "executor", "jinja_env", "metadata", "sql_time_limit_ms", "template_dir"}
"""Attributes of the object that have no underscore and are described nowhere, or only for one version."""

DATASETTES = ("datasette", "self.ds", "self._datasette", "self.datasette")
OF_PYTHON = {"_asdict", "_exit", "_fields", "_replace"}
"""What Python describes although it begins with an underscore."""


def private_uses(text: str) -> Iterator[str]:
    """What a module imports from Datasette, and the attributes that it reads there, that are not documented."""
    tree = ast.parse(text)
    own = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store)}
    own |= OF_PYTHON
    own |= {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (one.name for one in node.names if one.name.split(".")[0] == "datasette")
        elif isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "datasette":
            known = DOCUMENTED.get(node.module or "", set())
            yield from (f"{node.module}.{one.name}" for one in node.names if one.name not in known)
        elif isinstance(node, ast.Attribute):
            holder = ast.unparse(node.value)
            hidden = node.attr.startswith("_") and not node.attr.startswith("__") and node.attr not in own
            if hidden or (node.attr in UNDOCUMENTED and holder in DATASETTES):
                yield f"{holder}.{node.attr}"


def test_only_one_module_touches_what_is_private_to_datasette() -> None:
    found = {
        str(path.relative_to(WEB)): uses
        for path in WEB.rglob("*.py")
        if path != HOST and (uses := list(private_uses(path.read_text(encoding="utf-8"))))
    }
    assert not found


def test_a_use_of_what_is_private_is_seen() -> None:
    assert list(private_uses("from datasette.views.table import TableView")) == ["datasette.views.table.TableView"]
    assert list(private_uses("datasette._settings['x'] = 1")) == ["datasette._settings"]
    assert list(private_uses("datasette.jinja_env.select_template(['x'])")) == ["datasette.jinja_env"]
    assert list(private_uses("class A:\n def a(self):\n  self._b = 1\n  return self._b, self._c")) == ["self._c"]
    assert not list(private_uses("from datasette.utils.asgi import NotFound\nstate._replace(x=1)"))
    assert len(list(private_uses(HOST.read_text(encoding="utf-8")))) > 8
