"""What commands list, as tables: the findings of a check, the entries in words, the runs without a call."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import Final

from bevelbook.interchange.one_table import ColumnToWrite, MadeRows, OneTable
from bevelbook.plugin.check import SEVERITIES
from bevelbook.plugin.registry import Registry
from bevelbook.reports.check import DiffFindings, check
from bevelbook.reports.every_finding import CheckedFinding
from bevelbook.reports.runs_without_call import runs_to_decide
from bevelbook.taking_back.listing import said_entries

GROUP: Final = "What commands list"
_BETWEEN: Final = "; "


def listings(registry: Registry) -> tuple[OneTable, ...]:
    """Every listing, by name."""
    return (
        OneTable(
            "findings",
            "Findings",
            "What is worth a look, as 'bevelbook check' lists it, also what is about the past and what was put by",
            GROUP,
            (
                _text("name", "Name of the finding, by which it is put by"),
                _text("diff", "The diff that it is about, by its label; empty where it is about the team"),
                ColumnToWrite("severity", "text", "Severity", "How bad it is", choices=SEVERITIES),
                _text("code", "Its code, for programs"),
                _text("words", "What was found"),
                _text("remedy", "What to do about it"),
                _text("subject_table", "Table of the record that it is about"),
                _text("subject_id", "Id of that record"),
                _text("subject_label", "Name of that record"),
                _yes_or_no("past", "Whether it is about the past"),
                _yes_or_no("resting", "Whether it was put by and rests"),
                _text("put_by", "Why it was put by"),
            ),
            ("name",),
            make=lambda connection: _findings(connection, registry),
        ),
        OneTable(
            "entries_in_words",
            "Entries in words",
            "What was written, as 'bevelbook history' lists it, newest first",
            GROUP,
            (
                ColumnToWrite("number", "whole", "Number", "Number of the entry, by which it is taken back"),
                _text("id", "Id of the entry"),
                _text("made_at", "When (UTC)"),
                _text("made_by", "Who"),
                _text("asked", "What was asked for, as it was typed"),
                _text("reason", "Why, where that was said"),
                _text("came_of_it", "What came of it, one thing after the other"),
                ColumnToWrite("taken_back_by", "whole", "Taken back by", "Number of the entry that took it back"),
            ),
            ("id",),
            make=_entries,
        ),
        OneTable(
            "runs_without_call",
            "Runs without a call",
            "The runs after which nothing was decided, as 'bevelbook calls --list' has them, the newest day first",
            GROUP,
            (
                _text("run", "The run"),
                _text("id", "Its id"),
                ColumnToWrite("day", "date", "Day", "Its day"),
                _text("venue", "Where"),
                _text("remark", "What was noted"),
                _text("conditions", "Grip, temperatures and times"),
                _text("diffs", "The diffs in the car, each with its place and oil"),
            ),
            ("id",),
            make=_runs_without_call,
        ),
    )


def _findings(connection: sqlite3.Connection, registry: Registry) -> MadeRows:
    report = check(connection, registry, recheck_facts=True, past=True)
    groups: Iterable[tuple[DiffFindings | None, Iterable[CheckedFinding]]] = (
        *((group, group.every) for group in report.diffs),
        (None, report.every_of_team),
    )
    rows = [
        (
            one.name,
            None if group is None else group.label,
            one.severity,
            one.code,
            one.words,
            one.remedy,
            one.subject_table,
            one.subject_id,
            one.subject_label,
            _said(one.is_past),
            _said(one.is_resting),
            one.put_by.words if one.put_by else None,
        )
        for group, found in groups
        for one in found
    ]
    return MadeRows(rows, tuple(map(str, (*report.left_out, *report.faults))), is_whole=not report.left_out)


def _entries(connection: sqlite3.Connection) -> MadeRows:
    found, _ = said_entries(connection)
    rows = [
        (
            one.entry.number,
            one.entry.id,
            one.entry.made_at,
            one.entry.made_by,
            one.entry.asked,
            one.entry.reason,
            _BETWEEN.join(one.lines) or None,
            one.taken_back_by,
        )
        for one in found
    ]
    return MadeRows(rows)


def _runs_without_call(connection: sqlite3.Connection) -> MadeRows:
    rows = [
        (
            one.label,
            one.run,
            one.day,
            one.venue,
            one.remark,
            one.conditions or None,
            _BETWEEN.join(diff.words for diff in one.diffs) or None,
        )
        for one in runs_to_decide(connection)
    ]
    return MadeRows(rows)


def _text(name: str, about: str) -> ColumnToWrite:
    title = name.replace("_", " ")
    return ColumnToWrite(name, "text", title[:1].upper() + title[1:], about)


def _yes_or_no(name: str, about: str) -> ColumnToWrite:
    return _text(name, about)._replace(choices=("yes", "no"))


def _said(is_so: bool) -> str:
    return "yes" if is_so else "no"
