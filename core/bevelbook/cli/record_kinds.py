"""The kinds of record as ``bevelbook record`` lists them, each with what it needs."""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.cli import print_json, print_text

KINDS_HEADING: Final = "Kinds"


class KindRow(NamedTuple):
    """A kind of record: its name as typed, what it is, the fields that it needs, and shorter names for it."""

    kind: str
    about: str
    needs: tuple[str, ...]
    spoken: tuple[str, ...]

    @property
    def line(self) -> str:
        """What it is and what it needs, in one line."""
        needs = f" Needs {', '.join(self.needs)}." if self.needs else ""
        return f"{self.about}.{needs}"


def kind_rows() -> list[KindRow]:
    """All kinds that people write."""
    from bevelbook.records import KINDS

    return [
        KindRow(kind.name.replace("_", "-"), kind.about, tuple(field.stem for field in kind.needed), kind.spoken)
        for kind in KINDS
        if kind.own
    ]


def list_kinds(as_json: bool) -> None:
    """Print the kinds of record, for people or for programs."""
    from bevelbook.display.table import table_lines

    if as_json:
        print_json([row._asdict() for row in kind_rows()])
        return
    print_text("bevelbook record KIND [NAME] FIELD=VALUE ...  with KIND one of")
    for line in table_lines((f"  {row.kind}", row.line) for row in kind_rows()):
        print_text(line)
    print_text("'bevelbook record KIND --fields' lists the fields of one.")
