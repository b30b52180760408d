"""One calculator examined: what its author should mend before anybody relies on it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from bevelbook.examining.bounds import examine_bounds, examine_example_inside
from bevelbook.examining.calling import Calls
from bevelbook.examining.declared_lines import DeclaredLines
from bevelbook.examining.flaw import Flaw, most_serious_first
from bevelbook.examining.outside_range import examine_outside
from bevelbook.examining.purity import Watch
from bevelbook.examining.words import examine_names, examine_words
from bevelbook.examining.worked_examples import examine_examples
from bevelbook.plugin.calculator import Calculator


def examine(
    calculator: Calculator[Any, Any], declared: DeclaredLines | None = None, watch: Watch | None = None
) -> tuple[Flaw, ...]:
    """What is wrong with a calculator, the serious flaws first; nothing where all is well.

    ``declared`` are the lines of its plugin, where they are known; ``watch`` tells what its functions do beside working
    something out. Its code runs in this process: :func:`bevelbook.examining.examined.examined` has it run in another.
    """
    declared = declared or DeclaredLines(_files_of(calculator))
    calls = Calls(calculator.owner, calculator.name, watch)
    examine_names(calculator, declared, calls)
    examine_words(calculator, declared, calls)
    examine_bounds(calculator, declared, calls)
    gone_through = examine_examples(calculator, declared, calls)
    if gone_through:
        examine_example_inside(calculator, gone_through[0][0], declared, calls)
        examine_outside(calculator, *gone_through[0], declared, calls)
    return most_serious_first(calls.flaws)


def _files_of(calculator: Calculator[Any, Any]) -> list[Path]:
    """The file that its formula is written in, where that is known."""
    code = getattr(getattr(calculator.compute, "__wrapped__", None), "__code__", None)
    return [] if code is None else [Path(code.co_filename)]
