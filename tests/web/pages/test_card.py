"""What the page of a card asks of the database."""

from __future__ import annotations

import sqlite3

from constructed import Team

from bevelbook.plugin.registry import Registry
from bevelbook.web.pages.card import card_page_of


def test_the_card_page_has_the_card_of_the_build_and_its_styles(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    team.build(dry_mass_g=12.40, oil_mass_g=1.86)
    second = team.build(dry_mass_g=12.42, oil_mass_g=1.86, note="<b>quince</b>")
    found = card_page_of(connection, registry, second)
    assert found.build == "rear-a/2"
    assert "14.28" in found.fragment, "the stop mass: 12.42 g dry and 1.86 g of oil"
    assert "<b>quince" not in found.fragment
    assert "@page" in found.styles
