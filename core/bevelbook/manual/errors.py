"""Every code of an error with what it means and what to do."""

from __future__ import annotations

from collections.abc import Mapping

from bevelbook.declare.error_codes import GROUPS, VALUE_CODES, ErrorCode
from bevelbook.display.begun import begun
from bevelbook.manual.contents import Entries, ManualEntry, ManualPage, Paragraph, Section
from bevelbook.manual.imports import reason_entry, rejecting


def errors_page() -> ManualPage:
    """Every code, group by group, then by name, and at the end those that only an import gives."""
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
                "From an import",
                (
                    Paragraph(
                        "An import also rejects a row for the codes of values that cannot be read; "
                        "'bevelbook help import' says what settles them there."
                    ),
                    Entries(tuple(reason_entry(code) for code in sorted(rejecting()) if code not in VALUE_CODES), True),
                ),
            ),
        ),
    )


def _by_name(codes: Mapping[str, ErrorCode]) -> list[tuple[str, ErrorCode]]:
    return sorted(codes.items(), key=lambda one: one[0].lower())


def error_entry(code: str, one: ErrorCode) -> ManualEntry:
    """A code in words."""
    return ManualEntry(code, f"{begun(one.means)}.", one.remedy)
