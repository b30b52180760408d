"""Every plugin that was found: where it is from, what it offers, and what of it was left out, with the reason."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from bevelbook.plugin.origin import Origin
from bevelbook.plugin.registry import HOOKS, Registry


class ListedPlugin(NamedTuple):
    """One plugin. ``package`` and ``version`` are empty where it is a file of a folder.

    ``replaces`` says which of its calculators took the place of another, or gave theirs up. ``left_out`` are the
    reasons why it did not load, or why something that it offers is left out.
    """

    name: str
    package: str
    version: str
    file: str
    is_bundled: bool
    hooks: tuple[str, ...]
    calculators: tuple[str, ...]
    replaces: tuple[str, ...]
    left_out: tuple[str, ...]

    @property
    def heading(self) -> str:
        """Its name with the package that it came in."""
        return f"{self.name} ({self.package} {self.version})" if self.package else self.name

    @property
    def offers(self) -> str:
        """Its calculators, and the hooks by which it offers anything else."""
        return ", ".join((*self.calculators, *(hook for hook in self.hooks if hook != "bevelbook_calculators")))

    def facts(self) -> Iterator[tuple[str, str]]:
        """All of it but its name, a line each."""
        yield "file", self.file
        if self.hooks:
            yield "hooks", ", ".join(self.hooks)
        if self.calculators:
            yield "calculators", ", ".join(self.calculators)
        yield from (("in place", words) for words in self.replaces)
        yield from (("left out", reason) for reason in self.left_out)

    def as_dict(self) -> dict[str, Any]:
        """It for programs."""
        return {
            **self._asdict(),
            "package": self.package or None,
            "version": self.version or None,
            "hooks": list(self.hooks),
            "calculators": list(self.calculators),
            "replaces": list(self.replaces),
            "left_out": list(self.left_out),
        }


def plugins_listed(registry: Registry) -> list[ListedPlugin]:
    """All plugins that were found, whether they loaded or not: your own first, then those that are bundled, by name."""
    modules: dict[Origin, object] = {origin: module for module, origin in registry.plugins()}
    found = {**modules, **{one.origin: None for one in registry.failures if one.origin not in modules}}
    listed = (_listed(registry, origin, module) for origin, module in found.items())
    return sorted(listed, key=lambda one: (one.is_bundled, one.name, one.file))


def _listed(registry: Registry, origin: Origin, module: object) -> ListedPlugin:
    return ListedPlugin(
        origin.plugin,
        origin.package if origin.distribution else "",
        origin.version,
        str(getattr(module, "__file__", None) or origin.file),
        origin.is_bundled,
        tuple(hook for hook in HOOKS if hasattr(module, hook)),
        tuple(one.calculator.name for one in registry.with_rows() if one.origin == origin),
        tuple(_replacing(registry, origin)),
        tuple(one.reason for one in registry.failures if one.origin == origin),
    )


def _replacing(registry: Registry, origin: Origin) -> Iterator[str]:
    for offered in registry.calculators.values():
        if offered.origin == origin and offered.calculator.replacing:
            yield f"{offered.calculator.name} {offered.calculator.replacing}"
    for name, (offered, by) in sorted(registry.replaced.items()):
        if offered.origin == origin:
            yield f"{name} is replaced by {by.calculator.name}, of {by.origin.in_words}"
