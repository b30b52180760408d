"""Two laptops in the pits: one shows a code, the other gathers, each touched by a phone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from browser_team import close, make_team
from entry_phone import TouchPhone, answering, book_at, with_entry

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.datasette_state import state_of

pytestmark = pytest.mark.browser


def test_a_weekend_goes_from_one_laptop_to_the_other_by_a_few_taps(
    phones: Callable[..., TouchPhone], browser: Any, tmp_path: Path, registry: Registry
) -> None:
    """It starts two servers and two phones."""
    ana = phones().paired()
    before = ana.book.count("runs")
    (tmp_path / "bo").mkdir()
    datasette, entry = with_entry(make_team(tmp_path / "bo" / "team.db", "a note").path, tmp_path / "bo", registry)
    try:
        with answering(datasette) as port:
            address = f"127.0.0.1:{port}"
            entry = state_of(datasette).entry = entry._replace(addresses=lambda: (address,))
            bo = TouchPhone(browser, book_at(tmp_path / "bo" / "team.db", port, datasette, entry)).paired("bo")
            bo.to("-/enter/bench").tap("Give my weekend").page.fill("#field-since", "2020-01-01")
            bo.tap("Look what would go")
            assert "5 builds, 8 runs" in bo.words()
            bo.tap("Show the code")
            assert bo.taps == 3
            shown = bo.page.locator(".shown strong").all_inner_texts()
            assert shown[0] == address

            ana.to("-/enter/bench").tap("Gather from another laptop")
            ana.text("Its address", shown[0]).text("Its code", shown[1]).tap("Look what would come")
            assert "8 runs" in ana.words()
            assert ana.book.count("runs") == before
            ana.tap("Take it in")
            assert "Taken in" in ana.words()
            assert ana.book.count("runs") == before + 8
            bo.tap("Look whether it was fetched")
            assert "ana fetched it at" in bo.words()
            assert bo.faults == []
            bo.close()
    finally:
        close(datasette)
