"""The page "A calculator of your own" is followed word by word, up to a row that is seen in the browser."""

from __future__ import annotations

import html
import re
import shlex
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from browser_team import site_over
from conftest import Outcome

from bevelbook.manual.contents import CommandLine
from bevelbook.manual.own_calculator import LINE_AFTER, LINE_BEFORE, own_calculator_page
from bevelbook.new_plugin.names import PluginNames
from bevelbook.plugin.registry import Registry, load

Run = Callable[..., Outcome]
MADE = PluginNames("tyre-age")


def commands() -> Iterator[str]:
    """Every command of the page, in order."""
    for section in own_calculator_page().sections:
        yield from (block.text for block in section.blocks if isinstance(block, CommandLine))


def test_the_page_leads_from_an_empty_folder_to_a_row_in_the_browser(bevelbook: Run) -> None:
    said: list[str] = []
    served = 0
    for line in commands():
        program, *words = shlex.split(line)
        file = Path(f"mine/{MADE.module}.py")
        if line == LINE_BEFORE:
            assert file.read_text(encoding="utf-8").count(f"\n{line}\n") == 1
        elif line == LINE_AFTER:
            text = file.read_text(encoding="utf-8")
            file.write_text(text.replace(f"\n{LINE_BEFORE}\n", f"\n{line}\n"), encoding="utf-8")
        elif program == "python":
            done = subprocess.run(
                [sys.executable, *words, "-q", "-p", "no:cacheprovider"], capture_output=True, text=True, check=False
            )
            assert done.returncode == 0, done.stdout + done.stderr
            assert "5 passed" in done.stdout
        elif words[0] == "serve":
            served += 1
            assert words[words.index("--db") + 1] == "try.db"
            see_it(load(folder=Path(words[words.index("--plugins") + 1])))
        else:
            done = bevelbook(*words)
            assert (done.code, done.err) == (0, ""), line
            said.append(done.out)
    assert served == 1
    before, after = (out for out in said if out.startswith("Tyre age\n") and "Kept as" not in out)
    assert before.startswith("Tyre age\nok: draw 1.55 cm³; a fill is within 0.05 g\n")
    assert after.startswith("Tyre age\ncaution: a fill may be 3.2 % off, our own limit is 3 %")
    assert f"mine/{MADE.module}.py: nothing is wrong with it." in "".join(said)
    assert "Kept as calculation" in said[-1]


def see_it(registry: Registry) -> None:
    """The page of the calculator and its tables have the chart and what was kept. It is worked out in this process:
    another one would take long. Card, bench and the rest are in tests/plugin/test_everywhere.py."""
    registry.loaded_from = None
    with site_over(Path("try.db"), registry) as site:
        page = words_of(site.page("/try/-/calc/tyre-age?for=rear-a/1"))
        assert "a fill may be 3.2 % off" in page.casefold()
        assert "How far off a fill may be" in page
        assert "bevelbook --db try.db calc tyre-age --for build:rear-a/1 --plugins mine --keep" in page
        for table in ("calc_tyre_age", "calc_tyre_age_rows"):
            assert "rear-a/1" in words_of(site.page(f"/try/{table}"))


def words_of(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).replace("\u00a0", " ").split())
