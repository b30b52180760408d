"""Which plugins are loaded: those whose version was examined, and what of it left them out.

A version that is not known is examined now, in a process of its own. So a plugin that hangs, exits or prints where it
is imported never runs in the program itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from typing import TYPE_CHECKING

from bevelbook.declare.errors import DatabaseError
from bevelbook.examining.flaw import LACKING, TOO_SLOW, Flaw
from bevelbook.plugin.admitting import LeftOutOfPlugin, key_of
from bevelbook.plugin.origin import Origin

if TYPE_CHECKING:
    from bevelbook.examining.outcomes import ExaminedOutcome
    from bevelbook.examining.target import Target


def admitted(origins: Sequence[Origin]) -> dict[str, LeftOutOfPlugin]:
    """What is left out of plugins that did not come with the program, by their keys.

    Where no process can be started to examine one in, it is loaded as it is, and examined the next time.
    """
    from hashlib import sha256

    from bevelbook.examining.outcomes import keep_outcome, kept_outcome, version_of
    from bevelbook.examining.target import target_of

    targets = {version_of(target): target for target in map(target_of, origins)}
    among = sha256(" ".join(sorted(targets)).encode()).hexdigest()
    known = {version: kept_outcome(version) for version in targets}
    fresh = {version: one for version, one in known.items() if one is not None and one.among in (None, among)}
    unknown = [version for version in targets if version not in fresh]
    if unknown:
        with suppress(DatabaseError):
            examined = _examined(targets, fresh, unknown, among)
            for version, outcome in examined.items():
                keep_outcome(version, outcome)
            fresh |= examined
    keys = dict(zip(targets, map(key_of, origins), strict=True))
    return {
        keys[version]: LeftOutOfPlugin(one.whole, one.calculators)
        for version, one in fresh.items()
        if one.whole is not None or one.calculators
    }


def _examined(
    targets: dict[str, Target], known: dict[str, ExaminedOutcome], unknown: Sequence[str], among: str
) -> dict[str, ExaminedOutcome]:
    """The outcomes of plugins that are not known. Raises DatabaseError where no process can be started.

    One that lacks a unit, or the calculator that it replaces, is examined once more beside the others that are sound:
    they may have it. What is said of it holds among these plugins only.
    """
    from time import time

    from bevelbook.examining.in_child import looked_at
    from bevelbook.examining.outcomes import SLOW_KEPT_S, ExaminedOutcome

    beside = [targets[version] for version, one in known.items() if one.whole is None]
    looked = dict(zip(unknown, looked_at([targets[version] for version in unknown], beside), strict=True))
    lacking = [version for version, one in looked.items() if any(flaw.code == LACKING for flaw in one.flaws)]
    sound = [targets[version] for version in unknown if version not in lacking and not _whole(looked[version].flaws)]
    if lacking and sound:
        again = looked_at([targets[version] for version in lacking], [*beside, *sound])
        looked |= dict(zip(lacking, again, strict=True))
    later = time() + SLOW_KEPT_S
    return {
        version: ExaminedOutcome(
            _whole(one.flaws),
            _calculators(one.flaws),
            among if version in lacking else None,
            later if any(flaw.code == TOO_SLOW for flaw in one.flaws) else None,
        )
        for version, one in looked.items()
    }


def _whole(flaws: Sequence[Flaw]) -> str | None:
    """Why a plugin may not be imported at all. What the registry leaves out it finds again as it loads the plugin."""
    return next((one.in_words() for one in flaws if one.leaves_plugin_out), None)


def _calculators(flaws: Sequence[Flaw]) -> dict[str, str]:
    """The calculators left out, each with its first reason."""
    found: dict[str, str] = {}
    for one in flaws:
        if one.is_serious and one.calculator is not None:
            found.setdefault(one.calculator, one.in_words())
    return found
