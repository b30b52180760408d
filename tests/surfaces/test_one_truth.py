"""Every surface that shows a word or a number of a diff says the same: one matrix of cases over all of them.

All data are constructed: a diff of 1.86 g of oil and 22.35 g closed, run four times, weighed, run four times, weighed.
What is right is worked out here by hand: a reading of a scale with steps of d has the standard uncertainty d / sqrt 12
(JCGM 100:2008, F.2.2.1), a difference of two sqrt 2 times that, and k = 2. The scales by hand are said to scatter by
nothing; notes name no scale, so that it counts as one of 0.01 g that scatters by one step, and by one more from day to
day (our own figure).
The proposed limits are 5 % (0.093 g) and 10 % (0.186 g) of the oil.
"""

from __future__ import annotations

import html
import io
import json
import re
import sqlite3
from collections.abc import Callable, Iterator
from itertools import product
from math import sqrt
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from browser_team import Site, site_over

from bevelbook.cli import main
from bevelbook.notes.importing import import_notes
from bevelbook.notes.settings import Settings
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.due import due_of_diffs
from bevelbook.reports.shelf import reason_words, shelf_rows
from bevelbook.store.lookup import find_id
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import new_database, open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.pages import home

FILLED_G, OIL_G = 22.35, 1.86
WEIGHED = {
    "never": (),
    "sound": (22.34, 22.34),
    "near": (22.34, 22.29),
    "bad at the end": (22.34, 22.05),
    "bad at once": (22.05, 22.00),
}
LIMITS = {"none": {}, "grams": {"oil lost in grams": 0.03}, "runs": {"runs between openings": 8.0}}


class Case(NamedTuple):
    """One diff of the matrix."""

    weighed: str
    limit: str
    step_g: float
    state: str
    source: str

    @property
    def label(self) -> str:
        return "-".join((self.source, self.weighed, self.limit, f"{self.step_g:g}", self.state)).replace(" ", "-")

    # What is right, by hand

    @property
    def stop_g(self) -> float:
        return 0.03 if self.limit == "grams" else 0.186

    @property
    def caution_g(self) -> float:
        return min(0.093, self.stop_g)

    @property
    def wide_g(self) -> float:
        scatter_g = self.step_g if self.source == "notes" else 0.0
        return 2.0 * sqrt(2.0) * sqrt(self.step_g**2 / 12.0 + 2.0 * scatter_g**2)

    def loss_g(self, place: int) -> float:
        return round(FILLED_G - WEIGHED[self.weighed][place], 2)

    @property
    def verdict(self) -> str | None:
        if not WEIGHED[self.weighed]:
            return None
        for limit_g, word in ((self.stop_g, "stop"), (self.caution_g, "caution")):
            if self.loss_g(-1) - self.wide_g >= limit_g:
                return word
            if self.loss_g(-1) + self.wide_g >= limit_g:
                return "unclear"
        return "ok"

    def is_good(self, place: int) -> bool | None:
        if self.loss_g(place) - self.wide_g >= self.caution_g:
            return False
        return True if self.loss_g(place) + self.wide_g < self.caution_g else None

    @property
    def fill_states(self) -> list[str]:
        """Of the first and of the second four runs."""
        if not WEIGHED[self.weighed]:
            return ["unknown", "unknown"]
        first, second = self.is_good(0), self.is_good(1)
        if first is False:
            return ["doubtful", "lost oil"]
        if second is False:
            return ["full" if first else "doubtful", "doubtful"]
        return ["full" if first or second else "unknown", "full" if second else "unknown"]

    @property
    def lost(self) -> str:
        """What is said of it: 1.96 standard uncertainties of the difference are the smallest loss that is seen."""
        if not self.verdict:
            return "not weighed since the fill"
        if self.loss_g(-1) > 0.98 * self.wide_g:
            return f"lost {self.loss_g(-1):.2f} g of 1.86 g"
        seen = "0.04" if self.source == "notes" else "0.08" if self.step_g == 0.1 else "0.009"
        return f"no loss seen (the scale can see {seen} g and more)"

    @property
    def word(self) -> str:
        if self.state == "opened":
            return "apart"
        if self.verdict == "stop":
            return "open it"
        if self.verdict == "caution" or self.limit == "runs":
            return "look at it"
        return "weigh it" if self.verdict in ("", "unclear", None) else "ready"

    @property
    def act(self) -> str:
        """What is due for it on a day of 4 runs: no loss that is seen here reaches its limit within these."""
        if self.state == "opened" or self.verdict == "stop":
            return "rebuild"
        if self.limit == "runs":
            return "change the oil"
        return {"open it": "rebuild", "ready": "leave it"}.get(self.word, self.word)


CASES = [
    Case(weighed, limit, step_g, state, source)
    for weighed, limit, step_g, state, source in product(
        WEIGHED, LIMITS, (0.01, 0.1), ("in use", "opened", "mended"), ("hand", "notes")
    )
    if not (source == "notes" and (step_g == 0.1 or state == "mended"))
    and not (state == "mended" and weighed == "never")
]
BY_LABEL = {case.label: case for case in CASES}


def by_hand(writer: Writer, case: Case, scales: dict[float, str], fluid: str) -> None:
    """The story of one diff, record by record; a slip is written first where it is to be mended."""
    add: Callable[..., str] = lambda kind, **values: writer.insert(BY_NAME[kind], values)  # noqa: E731
    scale = scales[case.step_g]
    diff = add("diff", label=case.label, usual_position="rear", housing_material="aluminium")
    build = add(
        "build",
        label=f"{case.label}/1",
        diff=diff,
        built_on="2026-05-01",
        fluid=fluid,
        oil_mass_g=OIL_G,
        closed_mass_g=FILLED_G,
        scale=scale,
    )
    for number, day in enumerate(("2026-05-02", "2026-05-04"), start=1):
        run = add("run", label=f"{day}/{case.label}", run_on=day, runs=4.0, day_order=number, call="keep", grip="low")
        add("run_diff", run=run, build=build, position="rear", diff_temp_c=35.0)
    for day, mass_g in zip(("2026-05-03", "2026-05-05"), WEIGHED[case.weighed], strict=False):
        values = {"build": build, "weighed_on": day, "mass_g": mass_g, "mass_basis": "closed", "scale": scale}
        if case.state == "mended":
            slip = writer.insert(BY_NAME["weighing"], {**values, "mass_g": mass_g - 1.0})
            writer.connection.execute("UPDATE weighings SET mass_g = ? WHERE id = ?", (mass_g, slip))
        else:
            add("weighing", **values)


def as_notes(cases: list[Case]) -> bytes:
    """The same stories as lines of a file of notes."""
    lines = ["date,diff,dry_mass_g,oil_mass_g,total_mass_g,fluid,position,grip,diff_temp_c,runs,call"]
    for case in cases:
        dry = f"{FILLED_G - OIL_G:.2f}"
        lines.append(f"2026-05-01,{case.label},{dry},{OIL_G:.2f},{FILLED_G:.2f},house 7k,,,,,")
        for place, (driven, weighed) in enumerate((("2026-05-02", "2026-05-03"), ("2026-05-04", "2026-05-05"))):
            lines.append(f"{driven},{case.label},,,,,rear,low,35,4,keep")
            if WEIGHED[case.weighed]:
                lines.append(f"{weighed},{case.label},,,{WEIGHED[case.weighed][place]:.2f},,,,,,")
    return "\n".join(lines).encode()


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One database with a diff for every case."""
    path = tmp_path_factory.mktemp("truth") / "team.db"
    connection = new_database(path)
    with transaction(connection, path, asked="the matrix", by="ana"):
        writer = Writer(connection, "ana")
        fluid = writer.insert(BY_NAME["fluid"], {"label": "house 7k", "viscosity_cst": 7000.0})
        scales = {
            step: writer.insert(
                BY_NAME["scale"], {"name": f"{step} g", "step_g": step, "repeatability_g": 0.0, "day_to_day_g": 0.0}
            )
            for step in (0.01, 0.1)
        }
        for case in CASES:
            if case.source == "hand":
                by_hand(writer, case, scales, fluid)
    noted = [case for case in CASES if case.source == "notes"]
    report = import_notes(io.BytesIO(as_notes(noted)), "notes.csv", connection, path, Settings(), by="ana")
    assert (report.rejected, report.added) == (0, sum(1 + 2 + len(WEIGHED[case.weighed]) for case in noted))
    with transaction(connection, path, asked="limits and openings", by="ana"):
        writer = Writer(connection, "ana")
        for case in CASES:
            diff = find_id(connection, BY_NAME["diff"], case.label)
            if case.source == "notes":
                writer.update(BY_NAME["diff"], diff, {"housing_material": "aluminium"})
            for kind, value in LIMITS[case.limit].items():
                writer.insert(BY_NAME["limit"], {"kind": kind, "value": value, "diff": diff})
            if case.state == "opened":
                build = find_id(connection, BY_NAME["build"], f"{case.label}/1")
                writer.insert(BY_NAME["opening"], {"build": build, "opened_on": "2026-05-06", "reason": "routine"})
    connection.close()
    return path


@pytest.fixture(scope="module")
def connection(path: Path) -> Iterator[sqlite3.Connection]:
    connection = open_for_reading(path)
    yield connection
    connection.close()


@pytest.fixture(scope="module")
def site(path: Path, registry: Registry) -> Iterator[Site]:
    with site_over(path, registry) as made:
        yield made


def asked(path: Path, capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    with pytest.raises(SystemExit):
        main(["--db", str(path), *words, "--json"])
    return json.loads(capsys.readouterr().out)


def printed(path: Path, capsys: pytest.CaptureFixture[str], *words: str) -> str:
    with pytest.raises(SystemExit):
        main(["--db", str(path), *words])
    return capsys.readouterr().out


def words_of(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page)).split())


def labels(connection: sqlite3.Connection, sql: str) -> dict[str, Any]:
    return {row[0].removesuffix("/1"): tuple(row)[1:] for row in connection.execute(sql)}


def test_the_shelf(connection: sqlite3.Connection) -> None:
    found = labels(connection, "SELECT label, word, runs, loss_g, oil_in_g, viscosity_cst FROM shelf")
    assert found == {
        case.label: (
            case.word,
            8.0,
            case.loss_g(-1) if case.verdict else None,
            pytest.approx(OIL_G),
            7000.0,
        )
        for case in CASES
    }


def test_the_facts_of_builds_and_the_view_of_losses(connection: sqlite3.Connection) -> None:
    found = labels(connection, "SELECT b.label, k.leak, k.runs FROM build_facts k JOIN builds b ON b.id = k.build")
    assert found == {case.label: (case.verdict, 8.0) for case in CASES}
    lost = labels(connection, "SELECT b.label, l.leak, l.stop_g FROM losses l JOIN builds b ON b.id = l.build")
    assert lost == {case.label: (case.verdict, pytest.approx(case.stop_g)) for case in CASES if case.verdict}
    sheet = labels(connection, "SELECT label, leak, runs FROM build_sheet")
    assert sheet == found


def test_what_worked_and_the_runs_that_calculators_take(connection: sqlite3.Connection) -> None:
    found: dict[str, list[str]] = {}
    for label, state, viscosity_cst in connection.execute(
        "SELECT build_label, fill_state, viscosity_at_diff_temperature_cst FROM what_worked ORDER BY run_on"
    ):
        found.setdefault(label.removesuffix("/1"), []).append(state)
        assert viscosity_cst == pytest.approx(5780.0, rel=0.001), "7,000 cSt x exp(1757.1 (1/308.15 - 1/298.15))"
    assert found == {case.label: case.fill_states for case in CASES}


def test_check_says_what_the_shelf_says(
    path: Path, connection: sqlite3.Connection, capsys: pytest.CaptureFixture[str]
) -> None:
    report = asked(path, capsys, "check")
    shelf = {row["label"]: row for row in shelf_rows(connection)}
    assert report["faults"] == []
    for group in report["diffs"]:
        case = BY_LABEL[group["diff"]]
        assert group["runs_since_opened"] == 8.0
        severities = {one["code"]: one["severity"] for one in group["findings"]}
        in_use = {"stop": "stop", "caution": "caution"}.get(case.verdict or "")
        ended = {"stop": "caution", "caution": "worth a look"}.get(case.verdict or "")
        on_shelf = shelf[case.label]
        assert on_shelf["word"] == case.word
        said = [one["words"] for one in group["findings"]]
        for reason in reason_words(on_shelf):
            assert any(words == reason or words.startswith(f"{reason}; ") for words in said), (case, reason, said)
        looked_at = case.verdict == "caution" or case.limit == "runs"
        worst = {"open it": "stop", "look at it": "caution", "ready": None}.get(
            case.word, "caution" if looked_at else "worth a look"
        )
        if case.state != "opened" and worst:
            assert group["findings"][0]["severity"] == worst, case
        if case.word == "ready":
            assert not {"stop", "caution"} & set(severities.values()), case
        assert severities.get("oil_lost") == (ended if case.state == "opened" else in_use), case
        assert ("limit_passed" in severities) is (case.limit == "runs" and case.state != "opened"), case
        assert ("doubtful_runs" in severities) is (
            bool(in_use) and any(state in ("doubtful", "lost oil") for state in case.fill_states)
        ), case
        if case.state != "opened":
            by = {one["by"]: one for one in group["runs_left"]}
            assert (by["oil lost"]["left"] == 0.0) is (case.verdict == "stop"), case
            if case.limit == "runs":
                assert (by["runs between openings"]["left"], severities["limit_passed"]) == (0.0, "caution"), case


def test_the_calculator_says_the_same_of_each_build(path: Path, registry: Registry) -> None:
    from bevelbook.calculating.calculate import bind, run
    from bevelbook.calculating.known import find_subject, known_of

    offered = registry.calculators["leak-trend"]
    connection = open_for_reading(path)
    for case in CASES:
        if case.verdict is None:
            continue
        subject = find_subject(connection, f"build:{case.label}/1")
        result = run(
            offered.calculator, bind(offered.calculator, {}, known_of(connection, offered.calculator, [subject]))
        )
        assert result.verdict == case.verdict, case
        assert result.found.loss_g == pytest.approx(case.loss_g(-1)), case
    connection.close()


def test_the_chart_of_masses_draws_the_limits_that_hold(path: Path) -> None:
    from bevelbook.reports.mass_chart import masses_of_diff

    connection = open_for_reading(path)
    for case in CASES:
        drawn = masses_of_diff(connection, find_id(connection, BY_NAME["diff"], case.label), 1)
        assert bool(drawn) is (case.verdict is not None)
        if drawn:
            assert drawn[0]["stop_g"] == pytest.approx(case.stop_g)
            assert drawn[0]["stop_whose"] == ("yours" if case.limit == "grams" else "proposal")
            assert drawn[-1]["lost_g"] == case.loss_g(-1)
            assert drawn[0]["opened_runs"] == (8.0 if case.state == "opened" else None)
    connection.close()


def test_the_first_page(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(home, "DIFFS", len(CASES))  # a shelf as long as this is cut otherwise
    page = site.page("/")
    part = {
        name: re.findall(rf'<p class="{name}">(.*?)</p>', page, re.DOTALL) for name in ("label", "word", "lost", "runs")
    }
    shelf = list(zip(*(map(words_of, part[name]) for name in part), strict=True))
    lost = {case.label: case.lost for case in CASES}
    assert {row[0] for row in shelf} == set(BY_LABEL)
    why = dict(
        re.findall(
            r'<p class="label"><a [^>]*>([^<]*)</a></p>\s*<p class="word">.*?</p>\s*<p class="why quiet">(.*?)</p>',
            page,
        )
    )
    assert set(why) == {case.label for case in CASES if case.word != "ready"}
    for case in CASES:
        assert case.state == "opened" or ("8 runs since it was filled, your limit" in why.get(case.label, "")) is (
            case.limit == "runs"
        )
    for label, word, missing, runs in shelf:
        assert (word, runs) == (BY_LABEL[label].word, "8 runs"), label
        assert missing.startswith(lost[label]), label


@pytest.mark.parametrize("case", CASES[:: max(1, len(CASES) // 24)], ids=lambda case: case.label)
def test_the_pages_of_a_diff_and_of_its_build(site: Site, connection: sqlite3.Connection, case: Case) -> None:
    diff = words_of(site.page(f"/team/-/diff/{find_id(connection, BY_NAME['diff'], case.label)}"))
    build = words_of(site.page(f"/team/-/build/{find_id(connection, BY_NAME['build'], f'{case.label}/1')}"))
    assert case.word in diff
    lost = case.lost.removeprefix("lost ")
    what_it_says = re.search(r"Oil lost (ok|caution|stop|unclear) (.*?) Runs ", build)
    assert (what_it_says and what_it_says[1]) == case.verdict
    if what_it_says:
        assert f"{case.stop_g:.2f} g" in what_it_says[2] or f"{case.caution_g:.2f} g" in what_it_says[2]
        assert ("your limit" if case.limit == "grams" else "our default limit") in what_it_says[2].lower()
        first, second = case.is_good(0), case.is_good(1)
        since = (
            f"Good at run {4 if first else 0}, bad at run {4 if first is False else 8} (over {case.caution_g:.2f} g)"
        )
        assert (since in what_it_says[2]) is (False in (first, second))
        assert f" {case.verdict} " in diff.partition(" Builds ")[2]
    assert f"{case.label}/1 {case.word}" in build
    for page in (diff, build):
        assert lost in page or lost.replace(" (", " by run 8 (") in page
        assert page.count("lost oil") >= case.fill_states.count("lost oil")
        for state in case.fill_states:
            assert {"unknown": "not known to be full", "full": ""}.get(state, state) in page
        assert page.count("not known to be full") == case.fill_states.count("unknown")


def test_two_builds_side_by_side_differ_in_what_they_lost(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sound, bad = (Case(weighed, "none", 0.01, "in use", "hand") for weighed in ("sound", "bad at the end"))
    report = asked(path, capsys, "compare", f"{sound.label}/1", f"{bad.label}/1")
    found = {one["what"]: (one["a"], one["b"]) for one in report["differences"]}
    assert found["mass lost"] == (sound.loss_g(-1), bad.loss_g(-1))
    assert found["oil lost"] == ("ok", "stop")
    assert "runs" not in found


def test_the_command_says_at_once_what_the_shelf_says(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A weighing more for a copy of each sound case: the words of the command and those of the file agree."""
    copy = path.with_name("copy.db")
    copy.write_bytes(path.read_bytes())
    case = Case("sound", "grams", 0.01, "in use", "hand")
    found = asked(
        copy,
        capsys,
        "record",
        "weighing",
        f"build={case.label}/1",
        "weighed_on=2026-05-07",
        "mass=22.28g",
        "mass_basis=closed",
        "scale=0.01 g",
    )
    assert [(one["build"], one["verdict"]) for one in found["weighings_say"]] == [(f"{case.label}/1", "stop")]
    assert [(one["diff"], one["before"], one["after"]) for one in found["shelf"]] == [(case.label, "ready", "open it")]
    connection = open_for_writing(copy)
    assert connection.execute("SELECT word FROM shelf WHERE label = ?", (case.label,)).fetchone()[0] == "open it"
    connection.close()


def test_a_kept_result_does_not_speak_against_the_facts(
    path: Path, registry: Registry, capsys: pytest.CaptureFixture[str]
) -> None:
    """Kept while the diff was sound, then weighed lighter: page, sheet and comparison let the facts speak."""
    copy = path.with_name("kept.db")
    copy.write_bytes(path.read_bytes())
    sound, other = (Case("sound", limit, 0.01, "in use", "hand") for limit in ("none", "runs"))
    build = f"{sound.label}/1"
    asked(copy, capsys, "calc", "leak-trend", "--for", build, "--keep")
    typed = ("--weighing", "0:22.35", "--weighing", "6:22.34", "--oil-mass", "1.86")
    unweighed = Case("never", "none", 0.01, "in use", "hand").label + "/1"
    asked(copy, capsys, "calc", "leak-trend", "--for", unweighed, *typed, "--keep")
    words = (f"build={build}", "mass=22.05", "mass_basis=closed", "weighed_on=2026-05-08", "runs=12")
    asked(copy, capsys, "record", "weighing", *words)
    connection = open_for_reading(copy)
    sheet = {row[0]: tuple(row)[1:] for row in connection.execute("SELECT label, leak, verdicts FROM build_sheet")}
    assert sheet[build] == ("stop", None)
    assert sheet[unweighed] == (None, "leak-trend: ok"), "no fact answers"
    ids = {one: find_id(connection, BY_NAME["build"], one) for one in (build, unweighed)}
    connection.close()
    differing = [one["what"] for one in asked(copy, capsys, "compare", build, f"{other.label}/1")["differences"]]
    assert "oil lost" in differing
    assert not [what for what in differing if what.startswith("leak-trend")]
    with site_over(copy, registry) as site:
        page = site.page(f"/kept/-/build/{ids[build]}")
        assert "Oil lost stop Lost 0.30 g" in words_of(page)
        assert re.search(r"Leak trend as of \d{4}-\d\d-\d\d; what the records say now is above", words_of(page))
        assert 'class="verdict ok"' not in page.partition("What the calculators say")[2].partition("</section>")[0]
        assert "no loss seen" not in page
        assert "ok Leak trend" in words_of(site.page(f"/kept/-/build/{ids[unweighed]}"))


def test_a_limit_and_a_share_are_said_in_one_form_everywhere(
    path: Path, registry: Registry, capsys: pytest.CaptureFixture[str]
) -> None:
    """0.30 g of 1.86 g are 16 %; the limit is 10 % of the oil, 0.186 g: by the calculator, in the check, on pages."""
    case = Case("bad at the end", "none", 0.01, "in use", "hand")
    connection = open_for_reading(path)
    build = find_id(connection, BY_NAME["build"], f"{case.label}/1")
    connection.close()
    said = {
        "calc": asked(path, capsys, "calc", "leak-trend", "--for", f"{case.label}/1"),
        "check": asked(path, capsys, "check", case.label),
    }
    with site_over(path, registry) as site:
        said["page"] = words_of(site.page(f"/{path.stem}/-/build/{build}"))
    for surface, what in said.items():
        text = what if isinstance(what, str) else json.dumps(what, ensure_ascii=False)
        assert not re.search(r"[0-9]%", text), surface
        assert "0.30 g of 1.86 g (16 %)" in text, surface
        assert "our default limit of 0.19 g" in text, surface


def test_what_is_due_is_one_decision_for_plan_check_and_pages(
    path: Path, site: Site, connection: sqlite3.Connection, capsys: pytest.CaptureFixture[str]
) -> None:
    """The act of each case by hand, in what is due, in the check, in the plan for today and on the page of the diff."""
    due = due_of_diffs(connection)
    assert {one.label: one.act for one in due.values()} == {case.label: case.act for case in CASES}
    report = asked(path, capsys, "check")
    listed = {one["name"]: one["act"] for one in report["before_next_time_out"] if one["act"]}
    left = {one["label"]: one["act"] for one in report["left_as_they_are"] + report["apart"]}
    assert listed | left == {case.label: case.act for case in CASES}
    assert set(listed) & set(left) == set()
    first = printed(path, capsys, "plan").partition("\n\n")[0].strip()
    assert first.startswith("Before the next time out\n  1. ")
    assert printed(path, capsys, "check").partition("\n\n")[0].strip() == first
    words = {one["name"]: one["words"] for one in report["before_next_time_out"]}
    assert f"1. {next(iter(words.values()))}" in " ".join(first.split())
    for case in CASES[:: len(CASES) // 6]:
        page = words_of(site.page(f"/team/-/diff/{find_id(connection, BY_NAME['diff'], case.label)}"))
        assert (words.get(case.label, "nothing due").casefold() in page.casefold()) is (case.label in listed), case
