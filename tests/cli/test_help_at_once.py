"""The help that is printed without Click, against Click's own."""

from __future__ import annotations

import pytest

from bevelbook.cli.group import group
from bevelbook.cli.help_at_once import help_text


@pytest.mark.parametrize("width", [60, 61, 78, 99, 100])
def test_the_help_is_the_one_that_click_makes(width: int) -> None:
    context = group.make_context("bevelbook", [], resilient_parsing=True, terminal_width=width)
    assert help_text(width) == context.get_help() + "\n"
