"""The shelf in words: each diff with its oil, what it has lost, and whether it is ready."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterator, Sequence
from typing import Any, Final

from bevelbook.display.clock import clock_in_words
from bevelbook.display.days import built_in_words
from bevelbook.display.diff_names import with_mark
from bevelbook.display.hand_feel import turned_in_words
from bevelbook.display.table import table_lines
from bevelbook.facts import diffs
from bevelbook.facts.bench import given_up_sql, open_job_sql
from bevelbook.facts.diffs import BETWEEN_REASONS, READY
from bevelbook.facts.leak import Leak, leaks_of
from bevelbook.facts.once import once
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import rows
from bevelbook.formulas.leak import advice_where_unclear
from bevelbook.formulas.oil_limits import whose_limit
from bevelbook.formulas.oil_lost_words import state_of_loss
from bevelbook.reports.leak_found import place_in_words
from bevelbook.reports.oil_lost_line import IS_WET, disagreeing_said, is_unclear_by_weighings, loss_said, undecided_said
from bevelbook.reports.water_in_housings import may_be_wet

COLUMNS: Final = ("diff", "build", "built", "where", "oil", "cSt", "lost", "runs", "feel", "word")
ADVICE: Final = "advice"
"""The key under which a row has what helps where the weighings leave it unclear."""
_APART: Final = {diffs.OPENED: "opened and not built since", diffs.NOT_BUILT: "never built"}
"""The words for the reasons of a diff that is apart."""
_WITH_TYPED_LIMIT: Final = (
    "SELECT shelf.*, k.stop_low_runs, k.stop_runs, k.stop_high_runs, k.opened_on, k.leak_place, "
    "(SELECT limit_loss_g FROM diff_facts WHERE diff_facts.diff = shelf.diff) AS limit_loss_g, "
    f"{open_job_sql('shelf.diff', 'begun_at')} AS bench_since, {open_job_sql('shelf.diff', 'at_step')} AS bench_at, "
    f"{given_up_sql('shelf.diff', 'shelf.build')} AS bench_given_up, "
    "(SELECT paper_wet_at FROM builds WHERE builds.id = shelf.build) AS paper_wet_at "
    "FROM shelf LEFT JOIN build_facts k ON k.build = shelf.build"
)
"""The rows of the shelf, each with the runs at which its limit of oil lost is reached, when it was opened, the limit
that was typed in grams, and since when and at which step it is on the bench; and where the paper under its last build
was wet."""


def _apart_words(row: dict[str, Any]) -> str | None:
    """Why a diff is apart; None for any other."""
    if row["reasons"] == diffs.GIVEN_UP:
        return f"given up on the bench: {row['bench_given_up']}"
    if row["reasons"] != diffs.ON_THE_BENCH:
        return _APART.get(row["reasons"] or "")
    return f"on the bench since {clock_in_words(row['bench_since'])}" + (
        f", at {row['bench_at']}" if row["bench_at"] else ""
    )


def shelf_rows(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    """The rows of the view ``shelf``, by the diff's name."""
    return [*_shelf_with_advice(connection)]


@once
def _shelf_with_advice(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    return with_advice(connection, shelf_without_advice(connection))


def shelf_without_advice(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    """The same rows for those who choose among them: :func:`with_advice` completes the ones to be put in words."""
    return rows(connection, f"{_WITH_TYPED_LIMIT} ORDER BY shelf.label, shelf.diff")


def shelf_row(connection: sqlite3.Connection, diff: str) -> dict[str, Any] | None:
    """The row of one diff, by its id."""
    found = with_advice(connection, rows(connection, f"{_WITH_TYPED_LIMIT} WHERE shelf.diff = ?", (diff,)))
    return found[0] if found else None


def with_advice(connection: sqlite3.Connection, shelf: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The same rows with what helps a diff that the weighings leave unclear, and whether water hides what was lost."""
    unclear = {row["build"] for row in shelf if diffs.CANNOT_TELL in (row["reasons"] or "").split(BETWEEN_REASONS)}
    wet = {row["build"] for row in shelf if row["loss_g"] is not None and may_be_wet(connection, row["diff"])}
    leaks = leaks_of(connection, sorted(unclear | wet)) if unclear | wet else {}
    found = []
    for row in shelf:
        leak = leaks.get(row["build"])
        advice = _advice(leak) if row["build"] in unclear else None
        found.append(row | {ADVICE: advice, IS_WET: leak is not None and leak.is_wet})
    return found


def _advice(leak: Leak | None) -> str | None:
    if leak is None:
        return None
    return advice_where_unclear(leak.given, is_seen=leak.loss.loss_g > leak.loss.seen_g)


def lost_said(row: dict[str, Any]) -> str:
    """What the last build of a diff lost; that it has not run, for a ready one that has nothing to lose yet."""
    if row["loss_g"] is None and row["runs"] == 0 and row["word"] == READY:
        return "not run yet"
    return loss_said(row)


def runs_against_limit(limit: float, runs: float) -> str:
    """The team's limit of runs between openings, and how many are left."""
    left = limit - runs
    said = f"{count_of(left)} left" if left > 0 else "reached" if left == 0 else f"{count_of(-left)} over"
    return f"your limit of {limit:g} runs: {said}"


def reason_words(row: dict[str, Any], besides: Collection[str] = ()) -> Iterator[str]:
    """Why the diff in a row of the shelf is not ready, with the numbers; nothing for one that is apart.

    Reasons in ``besides`` are left out.
    """
    for reason, words in reasons_in_words(row):
        if reason not in besides:
            yield words


def reasons_in_words(row: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """The same, each with its key (see ``facts.diffs``)."""
    for reason in (row["reasons"] or "").split(BETWEEN_REASONS):
        words = _words_of(reason, row)
        if words:
            yield reason, words


def _words_of(reason: str, row: dict[str, Any]) -> str | None:
    match reason:
        case diffs.LOST_TOO_MUCH:
            limit = whose_limit(row["limit_from"], row["stop_g"], row["limit_loss_g"])
            return f"{loss_said(row, when=True)}, over {limit}"
        case diffs.WET_ON_PAPER:
            return f"the paper under it was wet at {place_in_words(row['paper_wet_at'])} after it was closed"
        case diffs.LOST_SOME:
            over = (
                ""
                if row["caution_g"] is None
                else f", over {whose_limit('proposal', row['caution_g'], row['limit_loss_g'])}"
            )
            return f"{loss_said(row, when=True)}{over}"
        case diffs.RUNS_REACHED:
            over, said = row["runs"] - row["limit_runs"], f"{count_of(row['runs'])} since it was filled"
            return f"{said}, {over:g} over your limit of {row['limit_runs']:g}" if over else f"{said}, your limit"
        case diffs.SEALS_OVER:
            return f"a seal was closed in {row['seal_uses']} times, your limit is {row['limit_seal_uses']:g}"
        case diffs.BROKE:
            return "broke in its last run"
        case diffs.TURNS_BADLY | diffs.NOTCHY:
            return f"turned {turned_in_words(row['hand_feel'])} by hand"
        case diffs.NOT_WEIGHED if row["runs"]:
            return f"not weighed twice the same way since it was filled, {count_of(row['runs'])} ago"
        case diffs.NOT_WEIGHED:
            return "how much oil is in it is not known"
        case diffs.CANNOT_TELL:
            return _cannot_tell(row)
        case diffs.WEIGHED_LONG_AGO:
            return f"{count_of(row['runs'] - (row['weighed_at_runs'] or 0.0))} since it was last weighed"
        case _:
            return None


def _cannot_tell(row: dict[str, Any]) -> str:
    """Why the weighings are unclear: what is certain, what is open, and what would settle it."""
    said = loss_said(row, when=True)
    if is_unclear_by_weighings(row):
        return "; ".join(disagreeing_said(row, in_use=True))
    match state_of_loss(row["loss_g"], row["loss_uncertainty_g"], row["oil_in_g"]):
        case "heavier" | "more than went in":
            return f"{said}: unclear what it lost"
        case "none seen":
            return f"{said}: {undecided_said(row)}: {row[ADVICE]}"
        case _:
            undecided = undecided_said(row)
            between = ", " if undecided.startswith("over ") else ": "
            return f"{said}{between}{undecided}: {row[ADVICE]}"


def all_words(row: dict[str, Any], besides: Collection[str] = ()) -> Iterator[str]:
    """Why the diff in a row of the shelf is not ready, and which of its weighings disagree."""
    yield from words_for_word(row, besides)
    if not is_unclear_by_weighings(row) or row["word"] == "apart":
        yield from disagreeing_said(row, in_use=row["word"] != "apart")


def short_reason(reason: str, row: dict[str, Any], words: str) -> str:
    """A reason of the shelf as short as it can be beside what is to be done; ``words`` are the long ones."""
    match reason:
        case diffs.LOST_TOO_MUCH | diffs.LOST_SOME:
            return loss_said(row)
        case diffs.WET_ON_PAPER:
            return f"wet on paper at {place_in_words(row['paper_wet_at'])}"
        case diffs.WEIGHED_LONG_AGO:
            return f"{count_of(row['runs'] - (row['weighed_at_runs'] or 0.0))} since"
        case diffs.NOT_WEIGHED if row["runs"]:
            return f"{count_of(row['runs'])} since it was filled"
        case diffs.CANNOT_TELL:
            said = next(disagreeing_said(row, in_use=False), "") if is_unclear_by_weighings(row) else ""
            return said or f"{loss_said(row)}: unclear"
        case diffs.SEALS_OVER:
            return f"a seal closed in {row['seal_uses']} times, your limit is {row['limit_seal_uses']:g}"
        case diffs.TURNS_BADLY:
            return f"it turned {turned_in_words(row['hand_feel'])}"
        case _:
            return words


def short_words(row: dict[str, Any]) -> Iterator[str]:
    """The same as :func:`all_words`, each as short as it can be where what to do is listed beside: limits and advice
    are left out."""
    apart = _apart_words(row)
    yield from (apart,) if apart else (short_reason(key, row, words) for key, words in reasons_in_words(row))
    if row["word"] != "apart" and not is_unclear_by_weighings(row):
        yield from disagreeing_said(row, in_use=False)


def words_for_word(row: dict[str, Any], besides: Collection[str] = ()) -> tuple[str, ...]:
    """The reasons to print in one line with the shelf word, also for a diff that is apart; empty for a ready one."""
    apart = _apart_words(row)
    return (apart,) if apart else tuple(reason_words(row, besides))


def word_and_why(row: dict[str, Any]) -> str:
    """The shelf word with its reasons, such as ``look at it: turned loose by hand``."""
    why = "; ".join(words_for_word(row))
    return f"{row['word']}: {why}" if why else str(row["word"])


def shelf_lines(shelf: list[dict[str, Any]]) -> Iterator[str]:
    """The shelf as a table for the terminal."""
    return table_lines(map(_cells, shelf), headings=COLUMNS, right={COLUMNS.index("cSt"), COLUMNS.index("runs")})


def _cells(row: dict[str, Any]) -> tuple[str, ...]:
    viscosity = row["viscosity_cst"]
    return (
        with_mark(row["label"], row["mark"]),
        row["build_label"] or "",
        built_in_words(row["built_on"]).removeprefix("built ") if row["built_on"] else "",
        row["position"] or "",
        row["fluid"] or row["viscosity_from"] or "not recorded",
        "not known" if viscosity is None else f"{viscosity:,.0f}",
        lost_said(row).removeprefix("lost "),
        f"{row['runs']:g}",
        row["hand_feel"] or "",
        word_and_why(row),
    )
