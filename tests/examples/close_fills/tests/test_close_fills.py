"""Tests of close_fills, run by whoever changes it: python -m pytest"""

import pytest
from bevelbook.testing import check_plugin

import close_fills


class Rows:
    """What the check reads, typed here."""

    def __init__(self, *fills: tuple[float, float]) -> None:
        self.fills = fills

    def rows(self, sql: str) -> list[dict[str, object]]:
        return [
            {"build": f"b{place}", "label": f"rear-a/{place}", "target_g": target, "oil_g": oil}
            for place, (target, oil) in enumerate(self.fills, start=1)
        ]


def test_bevelbook_finds_nothing_wrong_with_it() -> None:
    check_plugin(close_fills)


@pytest.mark.parametrize(("oil_g", "words"), [(1.88, "0.02 g more"), (1.84, "0.02 g less")])
def test_a_fill_outside_our_own_window_is_named(oil_g: float, words: str) -> None:
    """Invented: a target of 1.86 g."""
    (found,) = close_fills.bevelbook_checks(Rows((1.86, oil_g)))
    assert words in found.words
    assert found.subject_label == "rear-a/1"


@pytest.mark.parametrize("oil_g", [1.86, 1.85, 1.87])
def test_one_step_of_the_scale_is_close(oil_g: float) -> None:
    assert not list(close_fills.bevelbook_checks(Rows((1.86, oil_g))))
