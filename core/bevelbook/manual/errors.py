"""Every code of an error with what it means and what to do."""

from __future__ import annotations

from collections.abc import Mapping

from bevelbook.declare.error_codes import GROUPS, ErrorCode
from bevelbook.manual.contents import Entries, ManualEntry, ManualPage, Paragraph, Section
from bevelbook.manual.imports import reason_entry, rejecting


def errors_page() -> ManualPage:
    """Every code by where it comes from, then by name.

    The codes of values that cannot be read are also the reasons of an import.
    """
    groups = tuple(
        Section(heading, (Entries(tuple(error_entry(code, one) for code, one in _by_name(codes)), True),))
        for heading, codes in GROUPS.items()
    )
    return ManualPage(
        "errors",
        "Errors",
        "An error says what was wrong, where, and what to do. With --json it has a code, which stays the same.",
        (
            *groups,
            Section(
                "Values that cannot be read",
                (
                    Paragraph("The same codes are the reasons for which an import rejects a row or a file."),
                    Entries(tuple(map(reason_entry, sorted(rejecting()))), True),
                ),
            ),
        ),
    )


def _by_name(codes: Mapping[str, ErrorCode]) -> list[tuple[str, ErrorCode]]:
    return sorted(codes.items(), key=lambda one: one[0].lower())


def error_entry(code: str, one: ErrorCode) -> ManualEntry:
    """A code in words."""
    return ManualEntry(code, f"{one.means[:1].upper()}{one.means[1:]}.", one.remedy)
