"""The parts of a plan as data for programs: what has names becomes a mapping, what is in a row a list."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def plain_data(value: Any) -> Any:
    """A value of plain types that JSON knows; each tuple with names as a mapping by these.

    >>> from bevelbook.planning.event_to_come import CarToGo
    >>> plain_data((CarToGo("1", "blue", 6.0),))
    [{'car': '1', 'name': 'blue', 'runs': 6.0}]
    """
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return {name: plain_data(one) for name, one in value._asdict().items()}
    if isinstance(value, Mapping):
        return {str(name): plain_data(one) for name, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain_data(one) for one in value]
    return value
