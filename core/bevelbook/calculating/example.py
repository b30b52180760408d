"""A worked example of a calculator, as it is typed on the command line."""

from __future__ import annotations

from typing import Any

from bevelbook.plugin.calculator import Calculator, Worked


def example_words(calculator: Calculator[Any, Any], worked: Worked) -> list[str]:
    """The options of a worked example and their values, not yet quoted."""
    options = {field.name: field.option for field in calculator.inputs}
    return [
        word
        for name, text in worked.given.items()
        for one in ([text] if isinstance(text, str) else text)
        for word in (options[name], one)
    ]
