"""Every hook is documented from its docstring, has a test that names it, and is used by a plugin that is bundled."""

from __future__ import annotations

from pathlib import Path

import pytest
from documenting import bundled_users, signature_of

from bevelbook.plugin.registry import HOOKS

ROOT = Path(__file__).parents[2]
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("hook", HOOKS)
def test_it_is_on_the_developers_page_and_a_bundled_plugin_uses_it(hook: str) -> None:
    assert f"`{signature_of(hook)}`" in DEVELOPERS
    assert bundled_users(hook)
