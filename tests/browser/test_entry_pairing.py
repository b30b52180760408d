"""A phone paired at the page for it, with the code that the command shows in the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from entry_phone import TouchPhone, entered_by_command
from entry_team import make_entry_team

pytestmark = pytest.mark.browser


def test_the_code_of_the_terminal_pairs_one_phone_which_then_writes(browser: Any, tmp_path: Path) -> None:
    with entered_by_command(make_entry_team(tmp_path / "blue.db"), tmp_path / "settings") as book:
        phone, second = TouchPhone(browser, book), TouchPhone(browser, book)
        phone.to_home().tap("Pair this phone to write")
        assert phone.page.evaluate("isSecureContext") is False
        phone.number("Code", book.code())
        phone.choose("Who holds it", "ana").tap("Pair this phone")
        phone.to_home().tap("weigh it").number("Mass", "21.95").tap("Store it")
        assert book.rows("SELECT mass_g, updated_by FROM weighings") == [(21.95, "ana")]

        second.page.goto(f"{book.address}/-/enter/pair#{book.code().replace(' ', '')}")
        assert second.page.get_by_label("Code", exact=True).input_value().replace(" ", "").isdecimal()
        assert "#" not in second.page.url
        second.choose("Who holds it", "ben").tap("Pair this phone")
        assert second.refused == [403]
        assert "not the code" in second.words()
        for one in (phone, second):
            assert one.faults == []
            one.close()
