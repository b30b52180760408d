"""What an import says: counts, lines of each reason, findings of a kind together. All data are constructed."""

from __future__ import annotations

import pytest

from bevelbook.notes.report import Rejection, Report, grouped_findings


def report(**values: object) -> Report:
    return Report("notes.csv", **values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (report(), 0),
        (report(rejected=1), 1),
        (report(outcome="rejected", rejected=1), 2),
        (report(outcome="rejected"), 2),
    ],
)
def test_the_exit_code_tells_a_file_refused_from_rows_refused(found: Report, code: int) -> None:
    assert found.exit_code == code


def test_a_refused_file_says_so_and_nothing_else() -> None:
    found = report(outcome="rejected", file_reason="empty_file", message="the file is empty", rejected=3)
    assert list(found.lines()) == ["notes.csv: not imported (empty_file). Nothing was stored.", "the file is empty"]


def test_counts_are_in_words_with_thousands_apart() -> None:
    found = report(accepted=12_345, added=1, made={"builds": 1, "runs": 2}, known=3)
    first, second = list(found.lines())
    assert first == "notes.csv: 12,345 rows accepted, 0 rejected, 0 skipped."
    assert second == "  1 row new: 1 build, 2 runs; 3 known already"
    assert list(report().lines())[1] == "  0 rows new: no records"


def test_each_reason_is_listed_with_its_count_and_what_settles_it_once() -> None:
    found = report(
        rejected=13,
        skipped=1,
        left={
            ("rejected", "ambiguous_date"): 11,
            ("rejected", "call_unknown"): 1,
            ("rejected", "out_of_range"): 1,
            ("skipped", "blank"): 1,
        },
        settled_by_option={"ambiguous_date", "call_unknown", "grip_unknown"},
        rejects_file="notes.rejected.csv",
        dry_run=True,
    )
    text = "\n".join(found.lines())
    assert "  13 rejected:\n    11  ambiguous_date  two readings" in text
    assert "\n     1  call_unknown    not keep" in text
    assert "  1 skipped:\n    1  blank  nothing but" in text
    assert [line for line in text.splitlines() if "To settle" in line] == [
        "  To settle ambiguous_date: --date-order dmy, mdy or ymd",
        "  To settle call_unknown: a profile with words (call: {WORD: ...}), "
        "each one of keep, change, undecided or broke",
    ]
    *_, rejects, command, dry = text.splitlines()
    assert rejects == "  Rejected rows are in notes.rejected.csv: correct them there, then bring that file in:"
    assert command == "    bevelbook import notes.rejected.csv"
    assert dry == "  A dry run: nothing was written."


@pytest.mark.parametrize(("count", "more"), [(5, None), (6, "    and 1 more with x"), (30, "    and 25 more with x")])
def test_of_one_reason_five_lines_are_told_and_the_others_counted(count: int, more: str | None) -> None:
    rejections = [Rejection(line, "x", "diff", f"v{line}", "wrong.") for line in range(2, 2 + min(count, 20))]
    lines = list(report(rejected=count, left={("rejected", "x"): count}, rejections=rejections).lines())
    said = [line for line in lines if line.startswith("    line ")]
    assert len(said) == 5
    assert "line 2, diff" in said[0]
    assert [line for line in lines if line.startswith("    and ")] == ([more] if more else [])


def test_a_rejection_without_a_column_a_value_or_words_is_told_without_them() -> None:
    lines = list(report(rejected=1, rejections=[Rejection(7, "too_few_fields", None, None, None)]).lines())
    assert "    line 7: too_few_fields." in lines


def test_findings_of_a_kind_are_listed_up_to_twenty_and_counted_past_them() -> None:
    found = [(line, "fill_unknown") for line in range(2, 22)]
    assert grouped_findings(found, {"fill_unknown": 20}) == [f"fill_unknown:line {line}" for line in range(2, 22)]
    found.append((22, "fill_unknown"))
    assert grouped_findings(found, {"fill_unknown": 21})[-2:] == ["fill_unknown:line 21", "fill_unknown:and 1 more"]


@pytest.mark.parametrize(
    ("warnings", "said"),
    [
        (["fill_unknown:line 2"], "(line 2)"),
        (["fill_unknown:line 2", "fill_unknown:line 3"], "(lines 2, 3)"),
        ([f"fill_unknown:line {n}" for n in range(1, 6)], "(lines 1, 2, 3, 4, 5)"),
        ([f"fill_unknown:line {n}" for n in range(1, 7)], "(lines 1, 2, 3, 4, 5 and 1 more)"),
        (
            [*(f"fill_unknown:line {n}" for n in range(1, 21)), "fill_unknown:and 10 more"],
            "(lines 1, 2, 3, 4, 5 and 25 more)",
        ),
    ],
)
def test_a_kind_of_finding_stands_once_with_its_first_lines(warnings: list[str], said: str) -> None:
    (line,) = [one for one in report(warnings=warnings).lines() if "fill_unknown" in one]
    assert line.endswith(f"a build without its masses {said}")


def test_a_warning_of_the_file_stands_as_it_is() -> None:
    headings = ("line of cars", "and so on", "line 7 of 9")
    warnings = ["mixed_date_orders", *(f"unknown_column:{heading}" for heading in headings)]
    lines = list(report(warnings=warnings).lines())
    assert any(line.startswith("    mixed_date_orders") and line.endswith("in more than one order") for line in lines)
    for heading in headings:
        assert any(line.startswith(f"    unknown_column:{heading} ") for line in lines)
