"""Draws mutants of the rooms reading, notes and facts, runs each against the tests of its room, and says which survive.

Run by hand, never by the suite; see README.md beside this file. All of it happens in one session of pytest that has
collected the tests: a change in the body of a function is made in a fork of it, in memory. What is worked out when a
module is imported needs a new process, which has its own copy of the tree. No mutant is in a file that anything
else reads.
"""

from __future__ import annotations

import argparse
import functools
import gc
import json
import os
import random
import shutil
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any, NamedTuple

TREE = Path(__file__).resolve().parents[2]
COPIED = ("core", "plugins", "datasets", "tests", "pyproject.toml", "README.md", "DEVELOPERS.md")
CORE = "core/bevelbook"
MUTATED = {
    "reading": (f"{CORE}/reading",),
    "notes": (f"{CORE}/notes", f"{CORE}/records/note_row.py"),
    "facts": (f"{CORE}/facts",),
}
"""The files of a room, which hold its doctests too."""
TESTS = {
    "reading": ("tests/reading", "tests/messy"),
    "notes": ("tests/notes", "tests/records/test_note_row.py", "tests/messy"),
    "facts": ("tests/facts", "tests/surfaces", "tests/reports"),
}
WORKERS = 3
TIMES_CLEAN = 4.0
SPARE_S = 20.0
"""With a mutant a test may take so many times its clean run, and so much more."""
TIMES_TOGETHER = 3.0
"""All tests of a mutant together may take so many times what one that long may: other work slows all of them."""
NEAR_S, FAR_S = 25.0, 3.0
"""So many seconds are run of the tests that reach the place, and then of those that reach its file: those of the file's
own module first, then the quickest.
"""
OPTIONS = ("-q", "-x", "-p", "no:cacheprovider", "-p", "no:randomly", "-p", "no:xdist", "--tb=no", "--capture=no")


class Record(NamedTuple):
    """One clean run: the tests with what each took in s, and by file and line the numbers of those that reached it."""

    tests: list[str]
    seconds: list[float]
    reached: dict[str, dict[int, tuple[int, ...]]]


class Result(NamedTuple):
    """What came of one mutant."""

    mutant: Any
    state: str
    test: str
    tests: int
    wall_s: float
    processor_s: float


def main() -> None:
    if sys.argv[1:2] == ["one"]:
        _run_in_this_process(*sys.argv[2:])
    words = argparse.ArgumentParser(prog="mutation.run", description=__doc__)
    words.add_argument(
        "--seed", type=int, help="random start of the draw; one is made and printed where it is left out"
    )
    words.add_argument("--count", type=int, default=400)
    words.add_argument("--work", type=Path, required=True, help="a folder for the copies and the results")
    words.add_argument("--tree", type=Path, default=TREE, help="the checkout whose code and tests are run; this one")
    words.add_argument("--again", type=Path, help="results of an earlier run, whose survivors alone are run")
    given = words.parse_args()
    seed = given.seed if given.seed is not None else random.SystemRandom().randrange(10**6)
    print(f"seed {seed}", flush=True)
    trees = [_copied(given.tree, given.work.resolve() / f"tree{number}") for number in range(1 + WORKERS)]
    _go_to(trees[0])
    import pytest

    files = dict.fromkeys(name for room in TESTS for name in _tests_of(trees[0], room))
    raise SystemExit(pytest.main([*OPTIONS, *files], plugins=[_Loop(given, seed, trees)]))


def _go_to(tree: Path) -> None:
    os.chdir(tree)
    sources = [str(tree / name) for name in ("core", "plugins", "datasets", "tests")]
    sys.path = [*sources, *(one for one in sys.path if one and Path(one) != TREE / "tests")]
    os.environ["PYTHONPATH"] = os.pathsep.join(sources)


def _copied(tree: Path, copy: Path) -> Path:
    shutil.rmtree(copy, ignore_errors=True)
    copy.mkdir(parents=True)
    for name in COPIED:
        if (tree / name).is_dir():
            shutil.copytree(tree / name, copy / name, ignore=shutil.ignore_patterns("__pycache__", ".*"))
        else:
            shutil.copy2(tree / name, copy / name)
    return copy


def _files(tree: Path, patterns: tuple[str, ...]) -> list[str]:
    found = []
    for pattern in patterns:
        for path in sorted(tree.glob(pattern)):
            found += [path] if path.is_file() else sorted(path.rglob("*.py"))
    return [str(path.relative_to(tree)) for path in found]


@functools.cache
def _tests_of(tree: Path, room: str) -> list[str]:
    return _files(tree, TESTS[room]) + _files(tree, MUTATED[room])


def room_of(file: str) -> str:
    """The room of a mutated file or of a doctest's."""
    return next(room for room, starts in MUTATED.items() if file.startswith(starts))


# The draw


def _drawn(tree: Path, seed: int, count: int) -> tuple[list[Any], int]:
    """So many mutants, each at a place of its own, and how many places there are."""
    from mutation.mutants import sites

    names = [name for room in MUTATED for name in _files(tree, MUTATED[room])]
    sources = {name: (tree / name).read_text(encoding="utf-8") for name in names}
    places = [site for name, source in sources.items() for site in sites(source, name)]
    start = random.Random(seed)
    drawn: list[Any] = []
    for site in start.sample(places, len(places)):
        found = site.mutants(sources[site.file])
        if found:
            drawn.append(start.choice(found))
        if len(drawn) == count:
            break
    return drawn, len(places)


def _earlier(path: Path) -> list[Any]:
    from mutation.mutants import Mutant

    held = json.loads(path.read_text(encoding="utf-8"))
    return [Mutant(**one["mutant"]) for one in held["results"] if one["state"] == "survived"]


# The session that all runs are forks of


class _Loop:
    """In place of running the tests once: records a clean run, then runs the mutants."""

    def __init__(self, given: argparse.Namespace, seed: int, trees: list[Path]) -> None:
        import coverage

        self.given, self.seed, self.trees = given, seed, trees
        self.importing = coverage.Coverage(data_file=None, include=[f"{CORE}/*"])
        self.importing.start()
        self.failed = ""
        self.seconds: dict[str, float] = {}

    def pytest_runtest_logreport(self, report: Any) -> None:
        self.seconds[report.nodeid] = self.seconds.get(report.nodeid, 0.0) + report.duration
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_runtestloop(self, session: Any) -> bool:
        self.importing.stop()
        data = self.importing.get_data()
        self.at_import = {
            (str(Path(file).relative_to(self.trees[0])), line)
            for file in data.measured_files()
            for line in data.lines(file)
        }
        self.items = {item.nodeid: item for item in session.items}
        begun = time.time()
        record = self._recorded()
        if self.given.again:
            drawn, places = _earlier(self.given.again), 0
        else:
            drawn, places = _drawn(self.trees[0], self.seed, self.given.count)
        clean_s = sum(record.seconds)
        print(f"{len(drawn)} mutants of {places} places; the clean run takes {clean_s:.0f} s", flush=True)
        gc.unfreeze()  # what was imported before the tests began is looked for
        self.functions = _functions_by_file(self.trees[0])
        _caches()
        gc.collect()
        gc.freeze()
        results = list(self._run_all(drawn, record))
        self._try_clean(sorted({one.test for one in results if one.test}))
        _write(self.given.work / f"results-{self.seed}.json", self.seed, results)
        _say(results, self.trees[0], time.time() - begun)
        os._exit(0)

    def fork(self, work: Callable[[], int]) -> int:
        """A child in its own group that does the work and ends with its code; gives the child's process id."""
        child = os.fork()
        if child:
            return child
        code = 70
        try:
            os.setsid()
            nothing = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nothing, 1)
            os.dup2(nothing, 2)
            code = work()
        finally:
            os._exit(code)

    def run_items(self, tests: Iterable[str], folder: Path, before: Callable[[str], None] = lambda _: None) -> int:
        """Run these tests one after the other, up to the first that fails: 0, 1, or 5 where there are none."""
        folder.mkdir(parents=True, exist_ok=True)
        items = [self.items[test] for test in tests if test in self.items]
        for item, behind in zip(items, [*items[1:], None], strict=True):
            item.config._tmp_path_factory._basetemp = folder
            before(item.nodeid)
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=behind)
            if self.failed:
                return 1
        return 0 if items else 5

    def _try_clean(self, tests: list[str]) -> None:
        """Run all tests that failed for a mutant once more without one: none may fail."""
        said = self.given.work / "clean.txt"

        def work() -> int:
            code = self.run_items(tests, self.given.work / "tmp-clean")
            said.write_text(self.failed)
            return code

        _, status = os.waitpid(self.fork(work), 0)
        fault = f"FAILED: {said.read_text()}" if os.waitstatus_to_exitcode(status) else "all pass"
        print(f"without a mutant the {len(tests)} tests that failed for one: {fault}", flush=True)

    def _recorded(self) -> Record:
        """What a clean run of the tests was; those that are new in the folder's record are run for it."""
        kept = self.given.work / "record.json"
        held = json.loads(kept.read_text(encoding="utf-8")) if kept.exists() else {"seconds": {}, "reached": {}}
        missing = [test for test in self.items if test not in held["seconds"]]
        if missing:
            more = self.given.work / "record-more.json"
            _, status = os.waitpid(self.fork(lambda: self._record(missing, more)), 0)
            if os.waitstatus_to_exitcode(status):
                raise SystemExit(f"the clean run failed: {more.read_text(encoding='utf-8')}")
            found = json.loads(more.read_text(encoding="utf-8"))
            held["seconds"] |= found["seconds"]
            for file, lines in found["reached"].items():
                here = held["reached"].setdefault(file, {})
                for line, tests in lines.items():
                    here[line] = [*here.get(line, ()), *tests]
            kept.write_text(json.dumps(held), encoding="utf-8")
        tests = list(held["seconds"])
        numbers = {test: number for number, test in enumerate(tests)}
        shared: dict[tuple[int, ...], tuple[int, ...]] = {}
        reached: dict[str, dict[int, tuple[int, ...]]] = {}
        for file, lines in held["reached"].items():
            for line, ones in lines.items():
                found = tuple(numbers[one] for one in ones if one)
                reached.setdefault(file, {})[int(line)] = shared.setdefault(found, found)
        return Record(tests, list(held["seconds"].values()), reached)

    def _record(self, tests: list[str], kept: Path) -> int:
        import coverage

        watched = coverage.Coverage(data_file=None, include=[f"{CORE}/*"])
        watched.start()
        code = self.run_items(tests, self.given.work / "tmp-record", watched.switch_context)
        watched.stop()
        data = watched.get_data()
        reached = {
            str(Path(file).relative_to(self.trees[0])): {
                line: [one for one in contexts if one] for line, contexts in data.contexts_by_lineno(file).items()
            }
            for file in data.measured_files()
        }
        kept.write_text(self.failed or json.dumps({"seconds": self.seconds, "reached": reached}), encoding="utf-8")
        return code

    def _run_all(self, drawn: list[Any], record: Record) -> Iterator[Result]:
        from mutation.reach import Reach

        reach = Reach(self.trees[0] / CORE, self.trees[0])
        waiting = list(enumerate(drawn))[::-1]
        free = self.trees[1:]
        busy: dict[int, tuple[int, Any, Path, dict[str, float], float, float]] = {}
        while waiting or busy:
            while waiting and free:
                number, mutant = waiting.pop()
                tree = free.pop()
                tests = _chosen(mutant, self.trees[0], record, reach)
                limit_s = TIMES_TOGETHER * _limit_s(sum(tests.values()))
                child = self._started(number, mutant, tree, tests)
                busy[child] = (number, mutant, tree, tests, time.time(), limit_s)
            time.sleep(0.02)
            for child, (number, mutant, tree, tests, begun, limit_s) in list(busy.items()):
                ended, status, usage = os.wait4(child, os.WNOHANG)
                is_late = not ended and time.time() - begun > limit_s
                if is_late:
                    os.killpg(child, signal.SIGKILL)
                    ended, status, usage = os.wait4(child, 0)
                if not ended:
                    continue
                shutil.copy2(self.trees[0] / mutant.file, tree / mutant.file)
                shutil.rmtree(tree / "tmp", ignore_errors=True)
                del busy[child]
                free.append(tree)
                code = os.waitstatus_to_exitcode(status)
                is_late = is_late or code == -signal.SIGALRM
                state = "out of time" if is_late else {0: "survived", 5: "not reached"}.get(code, "killed")
                said = tree / "failed.txt"
                failed = said.read_text() if said.exists() else ""
                taken = usage.ru_utime + usage.ru_stime
                result = Result(mutant, state, failed, len(tests), time.time() - begun, taken)
                place = f"{mutant.file}:{mutant.line}"
                words = (
                    f"{number} {state} {place} {mutant.family} {result.wall_s:.1f} s {taken:.1f} s {len(tests)} tests"
                )
                print(f"{words} {failed or code}", flush=True)
                yield result

    def _started(self, number: int, mutant: Any, tree: Path, tests: dict[str, float]) -> int:
        said = tree / "failed.txt"
        said.unlink(missing_ok=True)
        file = self.trees[0] / mutant.file
        before = file.read_text(encoding="utf-8")
        source = mutant.applied(before)
        codes = _changed_functions(file, before, source)
        is_warm = bool(codes) and not any(
            (mutant.file, line) in self.at_import for old, _ in codes for line in _lines_inside(old)
        )
        if not is_warm:
            (tree / mutant.file).write_text(source, encoding="utf-8")
            (tree / "chosen.json").write_text(json.dumps(tests))
            words = [sys.executable, "-c", _START, str(TREE / "tests"), json.dumps(sys.path), "one", str(tree)]

            def start() -> int:
                os.chdir(tree)
                os.execve(words[0], words, {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"})

            return self.fork(start)

        def work() -> int:
            _put_in(self.functions.get(str(file), []), codes)
            code = self.run_items(tests, tree / "tmp", lambda test: _end_after(tests[test]))
            said.write_text(self.failed)
            return code

        return self.fork(work)


_START = """
import json, runpy, sys
tests, path = sys.argv[1], json.loads(sys.argv[2])
sys.path += [one for one in path if one not in sys.path]
sys.path.insert(0, tests)
sys.argv = ["run", *sys.argv[3:]]
runpy.run_module("mutation.run", run_name="__main__")
"""


class _Chosen:
    """Runs these tests alone, in this order, and keeps the first that fails."""

    def __init__(self, tests: dict[str, float]) -> None:
        self.clean_s = tests
        self.places = {test: place for place, test in enumerate(tests)}
        self.failed = ""

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        items[:] = sorted((one for one in items if one.nodeid in self.places), key=lambda one: self.places[one.nodeid])

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        _end_after(self.clean_s[nodeid])

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid


def _limit_s(clean_s: float) -> float:
    return TIMES_CLEAN * clean_s + SPARE_S


def _end_after(clean_s: float) -> None:
    """End this process where its next test takes too long; the earlier limit no longer counts."""
    signal.setitimer(signal.ITIMER_REAL, _limit_s(clean_s))


def _run_in_this_process(folder: str) -> None:
    """One mutant in its own copy of the tree."""
    import pytest

    tree = Path(folder)
    tests = json.loads((tree / "chosen.json").read_text())
    plugin = _Chosen(tests)
    own = {str(TREE / name) for name in ("core", "plugins", "datasets")}
    first = str(tree.parent / "tree0")
    sys.path = [one for one in sys.path if one not in own and not one.startswith(first)]
    _go_to(tree)
    files = dict.fromkeys(test.split("::")[0] for test in tests)
    code = int(pytest.main([*OPTIONS, "--basetemp", str(tree / "tmp"), *files], plugins=[plugin])) if tests else 5
    (tree / "failed.txt").write_text(plugin.failed)
    os._exit(code)


def _chosen(mutant: Any, tree: Path, record: Record, reach: Any) -> dict[str, float]:
    """The tests for a mutant in their order, each with what it takes clean: those that reach its place, then its file.

    A place that only runs at import is reached where the names that it makes are used.
    """
    of_room = _numbers_of(tree, room_of(mutant.file), tuple(record.tests))

    def reaching(places: dict[str, set[int]]) -> set[int]:
        found: set[int] = set()
        for file, lines in places.items():
            for tests in {record.reached.get(file, {}).get(line, ()) for line in lines}:
                found.update(tests)
        return found & of_room

    near = reaching(reach.lines_of(mutant.file, mutant.line)) or reaching(reach.uses_of(mutant.file, mutant.line))
    far = reaching({mutant.file: set(record.reached.get(mutant.file, ()))})
    if mutant.file.endswith("views.py"):
        far = set(of_room)
    own = f"test_{Path(mutant.file).stem}.py"
    tests: dict[str, float] = {}
    for group, most_s in ((near, NEAR_S), (far - near, FAR_S)):
        spent = 0.0
        for number in sorted(group, key=lambda one: (own not in record.tests[one], record.seconds[one], one)):
            if spent + record.seconds[number] <= most_s:
                spent += record.seconds[number]
                tests[record.tests[number]] = record.seconds[number]
    return tests


@functools.cache
def _numbers_of(tree: Path, room: str, tests: tuple[str, ...]) -> frozenset[int]:
    """The numbers of a room's tests."""
    files = set(_tests_of(tree, room))
    return frozenset(number for number, test in enumerate(tests) if test.split("::")[0] in files)


# A change in the body of a function, in memory


def _changed_functions(file: Path, before: str, source: str) -> list[tuple[CodeType, CodeType]]:
    """The code of the functions that a mutant changes, before and after; none where it changes more than bodies."""
    old = compile(before, str(file), "exec", dont_inherit=True)
    try:
        new = compile(source, str(file), "exec", dont_inherit=True)
    except (SyntaxError, SyntaxWarning):
        return []
    return _compared(old, new) or []


def _compared(old: CodeType, new: CodeType) -> list[tuple[CodeType, CodeType]] | None:
    """What differs among the functions inside two codes; None where the codes themselves do."""
    mine, theirs = (list(filter(_is_code, one.co_consts)) for one in (old, new))
    plain = [[one for one in code.co_consts if not _is_code(one)] for code in (old, new)]
    if old.co_code != new.co_code or repr(plain[0]) != repr(plain[1]) or old.co_names != new.co_names:
        return None
    found: list[tuple[CodeType, CodeType]] = []
    if len(mine) != len(theirs):
        return None
    for before, after in zip(mine, theirs, strict=True):
        if before.co_flags & 0x2:  # the body of a function
            if before != after:
                found.append((before, after))
        else:
            inside = _compared(before, after)
            if inside is None:
                return None
            found += inside
    return found


def _is_code(one: object) -> bool:
    return isinstance(one, CodeType)


def _lines_inside(code: CodeType) -> set[int]:
    """The lines of a function's body."""
    return {line for _, _, line in code.co_lines() if line is not None and line > code.co_firstlineno}


def _functions_by_file(tree: Path) -> dict[str, list[FunctionType]]:
    """All functions that the session has loaded from the tree's core."""
    found: dict[str, list[FunctionType]] = {}
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and one.__code__.co_filename.startswith(str(tree / CORE)):
            found.setdefault(one.__code__.co_filename, []).append(one)
    return found


def _put_in(functions: list[FunctionType], codes: list[tuple[CodeType, CodeType]]) -> None:
    """Give every function that has one of the old codes the new one, and forget what was worked out with it."""
    by_place = {(old.co_qualname, old.co_firstlineno): new for old, new in codes}
    for one in functions:
        new = by_place.get((one.__code__.co_qualname, one.__code__.co_firstlineno))
        if new is not None:
            one.__code__ = new
    for cached in _caches():
        cached.cache_clear()


@functools.cache
def _caches() -> list[Any]:
    """What the project remembers of earlier calls."""
    return [
        one
        for one in gc.get_objects()
        if isinstance(one, functools._lru_cache_wrapper) and str(one.__module__).startswith("bevelbook")
    ]


# The report


def _write(path: Path, seed: int, results: list[Result]) -> None:
    held = [{**one._asdict(), "mutant": one.mutant._asdict()} for one in results]
    path.write_text(json.dumps({"seed": seed, "results": held}, indent=1), encoding="utf-8")


def _say(results: list[Result], tree: Path, wall_s: float) -> None:
    killed = [one for one in results if one.state in ("killed", "out of time")]
    print(f"\n{len(killed)} of {len(results)} killed: {len(killed) / len(results):.1%}")
    print(f"{sum(one.state == 'out of time' for one in results)} of them ran out of time")
    of_sql = [one for one in results if one.mutant.is_sql]
    print(f"SQL: {sum(one in killed for one in of_sql)} of {len(of_sql)}")
    for room in MUTATED:
        here = [one for one in results if room_of(one.mutant.file) == room]
        print(f"{room}: {sum(one in killed for one in here)} of {len(here)}")
    print(f"wall {wall_s / 60:.0f} min, processor {sum(one.processor_s for one in results) / 60:.0f} min")
    left = [one for one in results if one not in killed]
    print(Counter(one.mutant.family for one in left).most_common())
    for one in sorted(left, key=lambda one: (one.mutant.file, one.mutant.line)):
        m = one.mutant
        source = (tree / m.file).read_text(encoding="utf-8")
        begin = source.rfind("\n", 0, m.start) + 1
        end = source.find("\n", m.end)
        line = f"{source[begin : m.start]}⟦{m.before}→{m.after}⟧{source[m.end : end]}".strip()
        print(f"- {m.file}:{m.line} {m.family}, {one.tests} tests: {line}")


if __name__ == "__main__":
    main()
