"""What examining plugins says about loading them: which are left out whole, and which of their calculators."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final, NamedTuple, Self

from bevelbook.plugin.origin import Origin


class LeftOutOfPlugin(NamedTuple):
    """Why a plugin is not even imported, None where it is; and the calculators left out of it, each with its reason."""

    whole: str | None
    calculators: Mapping[str, str]

    @classmethod
    def from_held(cls, held: Sequence[object]) -> Self:
        """The same again from what JSON held of it."""
        whole, calculators = held
        return cls(
            None if whole is None else f"{whole}",
            {f"{name}": f"{reason}" for name, reason in calculators.items()} if isinstance(calculators, dict) else {},
        )


NOTHING_LEFT_OUT: Final = LeftOutOfPlugin(None, {})

Admitting = Callable[[Sequence[Origin]], Mapping[str, LeftOutOfPlugin]]
"""Asked about all plugins that are not bundled before any is imported; gives by :func:`key_of` what is left out."""


def key_of(origin: Origin) -> str:
    """What tells a plugin from the others, in one process and in the next.

    >>> key_of(Origin("seals", "/plugins/seals.py"))
    'seals /plugins/seals.py'
    """
    file = str(Path(origin.file).absolute()) if origin.distribution is None else origin.file
    return f"{origin.plugin} {file}"


def as_before(left_out: Mapping[str, LeftOutOfPlugin]) -> Admitting:
    """Leave out what was left out before, in a process that loads the same plugins."""
    return lambda origins: left_out
