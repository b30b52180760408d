"""Names typed by hand: read without what nobody sees, and said where they look like another. All names are invented."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from asked import asked_here
from conftest import Outcome

Run = Callable[..., Outcome]


def test_a_name_is_kept_without_marks_that_nobody_sees_and_without_quotes(bevelbook: Run) -> None:
    bevelbook("new")
    bevelbook("record", "diff", "label=“K-01\u200f”")
    bevelbook("record", "fluid", 'label="house 7k"')
    assert asked_here("SELECT label FROM diffs UNION ALL SELECT label FROM fluids") == [("K-01",), ("house 7k",)]
    done = bevelbook("record", "build", "diff=K-01\u200f", "built_on=2026-05-03", "fluid=house 7k")
    assert done.code == 0, done.err
    refused = bevelbook("record", "diff", "label=k-01\u2060")
    assert refused.code == 2
    assert 'there is a diff named "K-01" already' in refused.err


def test_a_ditto_mark_is_not_taken_as_a_name(bevelbook: Run) -> None:
    bevelbook("new")
    done = bevelbook("record", "diff", "label=〃")
    assert done.code == 2
    assert "the same as above" in done.err
    assert asked_here("SELECT label FROM diffs") == []


def test_a_new_name_that_looks_like_another_is_written_and_said(bevelbook: Run) -> None:
    bevelbook("new")
    assert "looks like" not in bevelbook("record", "diff", "label=K-01").out
    done = bevelbook("record", "diff", "label=\u041a-01")
    assert done.code == 0
    assert '"\u041a-01" (with U+041A) looks like "K-01": is it the same diff?' in done.out
    assert "looks like" not in bevelbook("record", "diff", "label=K-02").out


def test_a_value_that_is_refused_is_shown_with_its_marks(bevelbook: Run) -> None:
    bevelbook("new")
    sheet = "date,diff,oil_mass_g\n2026-05-03,K-01,much\u200f\n2026-05-03,K-01,little\ufe0f\n"
    Path("notes.csv").write_text(sheet, encoding="utf-8")
    done = bevelbook("import", "notes.csv")
    assert done.code == 1
    assert '"much\\u200f"' in done.out
    assert '"little\\ufe0f"' in done.out


def test_a_ditto_mark_in_a_sheet_is_refused_with_the_option_that_reads_it(bevelbook: Run) -> None:
    bevelbook("new")
    sheet = 'date,diff,oil_mass_g\n2026-05-03,K-01,1.35\n2026-05-03,"""",1.36\n2026-05-04,do.,1.37\n'
    Path("notes.csv").write_text(sheet, encoding="utf-8")
    done = bevelbook("import", "notes.csv", "--dry-run")
    assert done.code == 1
    assert "2  ditto_mark  a cell that only says: the same as above" in done.out
    assert "To settle ditto_mark: --as-above" in done.out
    assert bevelbook("import", "notes.csv", "--as-above", "diff").code == 0
    assert asked_here("SELECT DISTINCT d.label, count(*) FROM builds b JOIN diffs d ON d.id = b.diff") == [("K-01", 3)]
