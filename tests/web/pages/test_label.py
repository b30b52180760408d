"""The page that prints the label of one bag."""

from __future__ import annotations

from pathlib import Path

from browser_team import make_team, site_over

from bevelbook.plugin.registry import Registry


def test_a_label_is_printed_from_the_page_of_its_diff_on_the_sheet_that_is_chosen(
    tmp_path: Path, registry: Registry
) -> None:
    team = make_team(tmp_path / "team.db")
    build = team.ids["rear-a/2"]
    with site_over(team.path, registry) as site:
        for page in (f"/team/-/diff/{team.ids['rear-a']}", f"/team/-/build/{build}"):
            assert f'href="/team/-/label/{build}"' in site.page(page)
        plain = site.page(f"/team/-/label/{build}")
        small = site.page(f"/team/-/label/{build}?sheet=63.5x38.1+on+a4&gone=20")
        letter = site.page("/team/-/label/rear-a~2F1?sheet=66.7x25.4+on+letter")
        wrong = [
            site.get(f"/team/-/label/{build}?{odd}") for odd in ("sheet=1x1", "gone=99", "gone=-1", "sheet=x+on+y")
        ]
    assert ">rear-a/2</text>" in plain
    assert "@page { size: 210mm 297mm; margin: 0 }" in plain
    assert "never on a diff that runs" in plain
    assert '<option value="63.5x38.1 on a4" selected>' in small
    assert '<g transform="translate(139.25 243.75)">' in small, "the last of 21: 7.25 + 2 x 66, 15.15 + 6 x 38.1"
    assert "@page { size: 215.9mm 279.4mm; margin: 0 }" in letter
    assert [answer.status_code for answer in wrong] == [400] * 4
    assert all("Traceback" not in answer.text for answer in wrong)
