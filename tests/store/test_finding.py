"""A record is found by what people call it."""

from __future__ import annotations

import sqlite3

import pytest

from bevelbook.errors import InputError, UnknownNameError
from bevelbook.records import BY_NAME
from bevelbook.store.finding import find_id, next_build_label
from bevelbook.store.writing import Writer


def test_a_record_is_found_by_label_by_id_and_a_build_by_its_diff(
    writer: Writer, connection: sqlite3.Connection
) -> None:
    diff = writer.insert(BY_NAME["diff"], {"label": "rear-a"})
    for number, day in ((1, "2026-05-03"), (2, "2026-05-10")):
        label = f"rear-a/{number}"
        last = writer.insert(BY_NAME["build"], {"label": label, "diff": diff, "built_on": day})
    assert find_id(connection, BY_NAME["diff"], "REAR-A") == diff
    assert find_id(connection, BY_NAME["build"], "rear-a") == last
    assert find_id(connection, BY_NAME["build"], last) == last
    assert next_build_label(connection, diff) == "rear-a/3"
    with pytest.raises(UnknownNameError, match="Did you mean rear-a/2"):
        find_id(connection, BY_NAME["build"], "rear-a/22")
    writer.insert(BY_NAME["build"], {"label": "rear-a/2", "diff": diff, "built_on": "2026-05-11"})
    with pytest.raises(InputError, match="2 builds are called that"):
        find_id(connection, BY_NAME["build"], "rear-a/2")
