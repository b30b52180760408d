"""Questions in SQL that a visitor wrote are answered in processes of their own, so that no page waits for them.

One function of SQL may work for minutes on two long texts, and nothing breaks that off: SQLite looks at the clock
between its steps alone. A process can be ended.
"""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Sequence
from typing import Any, Final

from bevelbook.web.host.limits_of_sqlite import TOO_MANY_BYTES
from bevelbook.web.host.private_datasette import QueryInterrupted, Results, said_of
from bevelbook.web.host.visitors_values import LONGEST_ANSWER_BYTES, TOO_MUCH_MEMORY, value_from
from bevelbook.web.worker.crossing import Held
from bevelbook.web.worker.process import AnsweringProcess, CannotStart, Ended
from bevelbook.web.worker.processes import AnsweringProcesses, TooManyWait

PROCESSES: Final = 2
MOST_WAITING: Final = 30
MOST_BYTES: Final = 640_000_000
"""The address space of one process, of which Python and Datasette take a third."""
ENDED_AFTER_S: Final = 1.0
"""How much later than Datasette's limit for a query the process is ended that does not keep to it."""
WAIT_S: Final = 3.0
"""How much longer than that a question waits for its turn."""
STARTS_WITHIN_S: Final = 20.0
"""How much longer where a process is started first."""


class VisitorsProcess(AnsweringProcess):
    """A process that answers questions in SQL."""

    def __init__(self) -> None:
        answering = "bevelbook.web.host.visitors_answering:AnsweringVisitors"
        super().__init__(answering, {}, most_bytes=MOST_BYTES, longest_answer_bytes=LONGEST_ANSWER_BYTES)

    def longest_s_of(self, question: Held) -> float:
        return float(question["within_ms"]) / 1000 + ENDED_AFTER_S


class VisitorsProcesses(AnsweringProcesses):
    """Those of this server, for all its databases."""

    def __init__(self) -> None:
        super().__init__([VisitorsProcess() for _ in range(PROCESSES)], MOST_WAITING)

    async def rows(self, database: Any, sql: str, given: Any, most_rows: int | None, within_ms: int) -> Any:
        """What a question gives, as Datasette has it. Raises sqlite3.Error, or QueryInterrupted where it takes too long
        or waits too long for its turn."""
        question = {
            "database": said_of(database),
            "sql": sql,
            "given": given if given is not None else {},
            "most_rows": most_rows,
            "within_ms": within_ms,
        }
        patience_s = within_ms / 1000 + ENDED_AFTER_S + WAIT_S + (0.0 if self.is_ready else STARTS_WITHIN_S)
        try:
            answer = await asyncio.wait_for(asyncio.wrap_future(self.submit(question)), patience_s)
        except (TooManyWait, TimeoutError) as fault:
            raise QueryInterrupted(fault, sql, given) from fault
        except Ended as fault:
            if fault.in_time:
                raise sqlite3.OperationalError(TOO_MUCH_MEMORY) from fault
            raise QueryInterrupted(fault, sql, given) from fault
        except CannotStart as fault:
            raise sqlite3.OperationalError(f"questions in SQL cannot be answered here: {fault}") from fault
        if answer.get("is_too_long"):
            raise sqlite3.DataError(TOO_MANY_BYTES)
        if answer.get("is_interrupted"):
            raise QueryInterrupted(sqlite3.OperationalError("interrupted"), sql, given)
        if "fault" in answer:
            raise getattr(sqlite3, answer["fault"])(answer["words"])
        columns: list[str] | None = answer["columns"]
        described = None if columns is None else [(column, *[None] * 6) for column in columns]
        rows = await asyncio.to_thread(_rows, columns or (), answer["rows"])
        return Results(rows, answer["is_truncated"], described)


def _rows(columns: Sequence[str], values: Sequence[Sequence[Any]]) -> list[sqlite3.Row]:
    """Rows as SQLite gives them, with those values."""
    if not values:
        return []
    named = ", ".join('NULL AS "{}"'.format(column.replace('"', '""')) for column in columns)
    memory = sqlite3.connect(":memory:")
    try:
        cursor = memory.execute(f"SELECT {named}")
        return [sqlite3.Row(cursor, tuple(map(value_from, row))) for row in values]
    finally:
        memory.close()


_PROCESSES: list[VisitorsProcesses] = []


def visitors_processes() -> VisitorsProcesses:
    """The processes of this server."""
    if not _PROCESSES:
        _PROCESSES.append(VisitorsProcesses())
    return _PROCESSES[0]


def end_visitors_sql() -> None:
    """End them, in the middle of a question too; a question after this starts others."""
    while _PROCESSES:
        _PROCESSES.pop().close()
