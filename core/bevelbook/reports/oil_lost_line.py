"""What a build lost, in words, from its facts: the one line that pages, shelf, check and commands print."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from bevelbook.facts.leak import BETWEEN_DISAGREEMENTS
from bevelbook.formulas.oil_limits import LossLimits
from bevelbook.formulas.oil_lost_words import NOT_WEIGHED, loss_in_words, state_of_loss, undecided_in_words

IS_WET: Final = "is_wet"
"""The key under which a row has whether water in the housing is part of the uncertainty (``water_in_housings``)."""
ADVICE: Final = "weigh again"
_SAYS_WHAT_COUNTS: Final = (" counts", " count")


def is_without_runs(row: Mapping[str, Any]) -> bool:
    """Whether all its masses were taken after the same runs, disagree, and are not settled."""
    return bool(
        row["leak"] == "unclear"
        and row["good_until_runs"] == row["weighed_at_runs"]
        and row["weighings_apart"]
        and not row["weighings_apart"].endswith(_SAYS_WHAT_COUNTS)
    )


def is_unclear_by_weighings(row: Mapping[str, Any]) -> bool:
    """Whether it is unclear for no other reason than that its weighings contradict each other."""
    if row["leak"] != "unclear" or not row["weighings_apart"]:
        return False
    state = state_of_loss(row["loss_g"], row["loss_uncertainty_g"], row["oil_in_g"], is_apart=is_without_runs(row))
    return state == "weighings apart" or (state in ("lost", "none seen") and not undecided_said(row))


def loss_said(row: Mapping[str, Any], *, when: bool = False) -> str:
    """What a build lost, from a row with its facts and ``IS_WET``; ``when`` adds the runs at its last mass."""
    if row["loss_g"] is None:
        return NOT_WEIGHED
    by = f"by run {row['weighed_at_runs']:g}" if when else ""
    is_apart = is_without_runs(row)
    is_wet = bool(row[IS_WET])
    return loss_in_words(
        row["loss_g"], row["loss_uncertainty_g"], row["oil_in_g"], by, is_apart=is_apart, is_wet=is_wet
    )


def loss_in_line(row: Mapping[str, Any]) -> str:
    """What a build lost, and which weighings disagree; empty where it was not weighed since the fill."""
    if row["loss_g"] is None:
        return ""
    said = loss_said(row)
    return said if is_without_runs(row) else "; ".join((said, *disagreeing_said(row, in_use=False)))


def disagreeing_said(row: Mapping[str, Any], *, in_use: bool) -> Iterator[str]:
    """Weighings that disagree and are not settled yet; where the diff is in use, with the advice to weigh it again."""
    for words in (row["weighings_apart"] or "").split(BETWEEN_DISAGREEMENTS):
        if words:
            yield f"{words}{', ' if words.endswith(_SAYS_WHAT_COUNTS) else ': '}{ADVICE}" if in_use else words


def undecided_said(row: Mapping[str, Any]) -> str:
    """What is certain about its loss, and which limit the scale cannot decide."""
    limits = LossLimits(row["caution_g"], row["stop_g"], row["limit_from"], row["limit_loss_g"])
    return undecided_in_words(row["loss_g"], row["loss_uncertainty_g"], limits)
