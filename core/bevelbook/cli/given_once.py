"""A command that refuses an option with one value given twice, rather than taking the last."""

from __future__ import annotations

from collections import Counter

import click


class GivenOnce(click.Command):
    """A command whose options with one value may be given once."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Raises UsageError for an option with one value that is given twice."""
        order = self.make_parser(ctx).parse_args([*args])[2]
        for param, count in Counter(order).items():
            if count > 1 and isinstance(param, click.Option) and not (param.multiple or param.is_flag or param.count):
                raise click.UsageError(f"Give {param.opts[0]} once: it takes one value.", ctx)
        return super().parse_args(ctx, args)
