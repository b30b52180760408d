"""A whole number as the value of an option."""

from __future__ import annotations

from typing import Any

import click


class WholeNumber(click.IntRange):
    """A whole number between bounds; anything else is refused in those words."""

    name = "whole number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        try:
            int(value)
        except (TypeError, ValueError):
            self.fail(f"{value!r} is not a whole number.", param, ctx)
        return int(super().convert(value, param, ctx))
