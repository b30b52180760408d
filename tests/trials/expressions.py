"""Every regular expression of the program, each with texts that are made to have it go back and forth for long.

    python tests/trials/expressions.py [--most 200000]

A call of ``re`` is found in the source, and its pattern worked out with the names of its module; a name that only a
function knows stands for a word. From the structure of a pattern come texts: what leads to each repeat, what it
repeats many times, and an end that does not fit. What grows faster than the text is listed, with the seconds that
``--most`` letters would take. ``tests/test_expressions.py`` holds that nothing grows faster than the square.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import re
import signal
import sys
import time
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, NamedTuple

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)
    from re import _constants as kinds  # type: ignore[attr-defined]
    from re import _parser as parser  # type: ignore[attr-defined]

ROOT: Final = Path(__file__).parents[2]
ROOTS: Final = (ROOT / "core", ROOT / "plugins")
WAYS: Final = ("compile", "match", "fullmatch", "search", "sub", "subn", "split", "findall", "finditer")
LATE: Final = "late_pattern"
"""Compiles an expression at its first use."""
FOR_ANY_NAME: Final = "ab"
MANY: Final = 20
"""A repeat that may be taken so often is one that a text can make long."""
FEW_ENDS: Final = ("\x00", "")
ENDS: Final = ("", "\x00", "!", "\n", "a", "0", " ")


class Expression(NamedTuple):
    """A regular expression, with where it is used and how."""

    place: str
    pattern: str | bytes
    flags: int
    ways: frozenset[str]


def expressions() -> Iterator[Expression]:
    """All of them; whose pattern cannot be worked out raises ValueError."""
    for root in ROOTS:
        for path in sorted(root.rglob("*.py")):
            source = path.read_text("utf-8")
            if re.search(rf"\bre\b|{LATE}", source) is None:
                continue
            tree = ast.parse(source)
            used, named = _ways_of_names(tree), _names_of_calls(tree)
            for node in ast.walk(tree):
                how = _called(node)
                if how is not None:
                    ways = used.get(named.get(node, ""), set(WAYS)) if how == "compile" else {how}
                    yield from _of_call(node, path, root, frozenset(ways))  # type: ignore[arg-type]


def _called(node: ast.AST) -> str | None:
    """Which function of ``re`` a call is of; one that compiles later counts as one that does at once."""
    if not isinstance(node, ast.Call) or not node.args:
        return None
    function = node.func
    if isinstance(function, ast.Name) and function.id == LATE:
        return "compile"
    if isinstance(function, ast.Attribute) and isinstance(function.value, ast.Name) and function.value.id == "re":
        return function.attr if function.attr in WAYS else None
    return None


def _ways_of_names(tree: ast.AST) -> Mapping[str, set[str]]:
    """How each name is used that may be a compiled expression: ``_ID.fullmatch``."""
    found: dict[str, set[str]] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.attr in WAYS:
            found.setdefault(node.value.id, set()).add(node.attr)
    return found


def _names_of_calls(tree: ast.AST) -> Mapping[ast.AST, str]:
    """The name that what a call gives is kept under: ``_ID = re.compile(...)``."""
    found: dict[ast.AST, str] = {}
    for node in ast.walk(tree):
        target = (
            node.targets[0]
            if isinstance(node, ast.Assign)
            else node.target
            if isinstance(node, ast.AnnAssign)
            else None
        )
        if isinstance(target, ast.Name) and isinstance(node.value, ast.Call):  # type: ignore[attr-defined]
            found[node.value] = target.id  # type: ignore[attr-defined]
    return found


class _Word(str):
    """Stands for anything that only a function knows."""

    def __getattr__(self, name: str) -> _Word:
        return self

    def __call__(self, *given: object, **named: object) -> _Word:
        return self

    def __getitem__(self, place: object) -> _Word:
        return self


class _Names(dict[str, Any]):
    """The names of a module, and a word for any other."""

    def __missing__(self, name: str) -> str:
        return _Word(FOR_ANY_NAME)


def _of_call(node: ast.Call, path: Path, root: Path, ways: frozenset[str]) -> Iterator[Expression]:
    module = importlib.import_module(".".join(path.relative_to(root).with_suffix("").parts).removesuffix(".__init__"))
    names = _Names(vars(module))
    names |= vars(__import__("builtins"))
    flags = [
        argument
        for argument in (*node.args[1:], *(one.value for one in node.keywords))
        if "re." in ast.unparse(argument)
    ]
    place = f"{path.relative_to(ROOT)}:{node.lineno}"
    try:
        pattern = eval(compile(ast.Expression(node.args[0]), str(path), "eval"), names)
        given = 0
        for one in flags:
            found = eval(compile(ast.Expression(one), str(path), "eval"), names)
            given |= int(found) if isinstance(found, int) else 0
    except (TypeError, AttributeError, NameError, KeyError) as fault:
        raise ValueError(f"{place}: {ast.unparse(node.args[0])}: {fault}") from fault
    if isinstance(pattern, re.Pattern):
        yield Expression(place, pattern.pattern, pattern.flags & ~re.UNICODE, ways)
    elif isinstance(pattern, str | bytes):
        yield Expression(place, str(pattern) if isinstance(pattern, str) else pattern, given, ways)
    else:
        raise ValueError(f"{place}: {ast.unparse(node.args[0])} is {pattern!r}")


class Attack(NamedTuple):
    """A text to be made as long as is wanted: a beginning, what is repeated, and an end."""

    begun: str
    repeated: str
    end: str

    def text(self, letters: int) -> str:
        """About so many letters."""
        return self.begun + self.repeated * max(1, letters // max(1, len(self.repeated))) + self.end


def attacks_on(expression: Expression, ends: Sequence[str] = ENDS) -> list[Attack]:
    """Texts from the structure of a pattern, with each of the ends."""
    pattern = expression.pattern if isinstance(expression.pattern, str) else expression.pattern.decode("latin-1")
    tree = parser.parse(pattern, expression.flags & ~re.LOCALE)
    found: list[Attack] = []
    for begun, repeated in _repeats(list(tree), ""):
        for end in ends:
            found += [Attack(begun, repeated, end), Attack("", f"{begun}{repeated}", end)]
        found.append(Attack(begun, f"{repeated}\x00", ""))
    return list(dict.fromkeys(found))


def _repeats(items: list[Any], before: str) -> Iterator[tuple[str, str]]:
    """What leads to each repeat, with what it repeats; what leads to the next one repeats this one's, where it may."""
    so_far = before
    for kind, given in items:
        if kind in (kinds.MAX_REPEAT, kinds.MIN_REPEAT, getattr(kinds, "POSSESSIVE_REPEAT", None)):
            least, most, inside = given
            words = _examples(list(inside))
            if most == kinds.MAXREPEAT or most >= MANY:
                yield from ((so_far, word) for word in words if word)
                yield from ((so_far, word * 2) for word in words[:1] if word)
            yield from _repeats(list(inside), so_far)
            so_far += (words[0] if words else "") * max(int(least), 1)
        elif kind is kinds.SUBPATTERN:
            yield from _repeats(list(given[3]), so_far)
            so_far += _example(list(given[3]))
        elif kind is kinds.BRANCH:
            for way in given[1]:
                yield from _repeats(list(way), so_far)
            so_far += _example(list(given[1][0]))
        elif kind in (kinds.ASSERT, kinds.ASSERT_NOT):
            yield from _repeats(list(given[1]), so_far)
        elif kind is getattr(kinds, "ATOMIC_GROUP", None):
            yield from _repeats(list(given), so_far)
            so_far += _example(list(given))
        else:
            so_far += _example([(kind, given)])


def _examples(items: list[Any]) -> list[str]:
    """Texts that fit the pattern: one for each letter that a class may begin with, a few."""
    if len(items) == 1 and items[0][0] is kinds.IN:
        return [letter for letter in "a0 .-/,x_A'\n\xe9" if _is_in(letter, items[0][1])][:5] or [_example(items)]
    if len(items) == 1 and items[0][0] in (kinds.ANY, kinds.NOT_LITERAL):
        return [letter for letter in "a0 .\n" if items[0][0] is kinds.ANY or ord(letter) != items[0][1]]
    if len(items) == 1 and items[0][0] is kinds.SUBPATTERN:
        return _examples(list(items[0][1][3]))
    if len(items) == 1 and items[0][0] is kinds.BRANCH:
        return list(dict.fromkeys(word for way in items[0][1][1] for word in _examples(list(way))))[:6]
    return [_example(items)]


def _example(items: list[Any]) -> str:
    """A short text that fits the pattern, as a rule."""
    made = ""
    for kind, given in items:
        if kind is kinds.LITERAL:
            made += chr(given)
        elif kind is kinds.NOT_LITERAL:
            made += "a" if given != ord("a") else "b"
        elif kind is kinds.ANY:
            made += "a"
        elif kind is kinds.IN:
            made += next((letter for letter in "a0 .-/,x_A'\n\xe9\u2013\u00b5" if _is_in(letter, given)), "") or next(
                (chr(number) for number in range(33, 0x2100) if _is_in(chr(number), given)), ""
            )
        elif kind in (kinds.MAX_REPEAT, kinds.MIN_REPEAT, getattr(kinds, "POSSESSIVE_REPEAT", None)):
            made += _example(list(given[2])) * min(max(int(given[0]), 1 if given[1] else 0), 40)
        elif kind is kinds.SUBPATTERN:
            made += _example(list(given[3]))
        elif kind is kinds.BRANCH:
            made += _example(list(given[1][0]))
        elif kind is getattr(kinds, "ATOMIC_GROUP", None):
            made += _example(list(given))
    return made


def _is_in(letter: str, items: list[Any]) -> bool:
    is_negated, found = False, False
    for kind, given in items:
        if kind is kinds.NEGATE:
            is_negated = True
        elif kind is kinds.LITERAL:
            found = found or ord(letter) == given
        elif kind is kinds.RANGE:
            found = found or given[0] <= ord(letter) <= given[1]
        elif kind is kinds.CATEGORY:
            found = found or re.match(_CATEGORIES.get(given, r"(?!)"), letter) is not None
    return found != is_negated


_CATEGORIES: Final = {
    kinds.CATEGORY_DIGIT: r"\d",
    kinds.CATEGORY_NOT_DIGIT: r"\D",
    kinds.CATEGORY_SPACE: r"\s",
    kinds.CATEGORY_NOT_SPACE: r"\S",
    kinds.CATEGORY_WORD: r"\w",
    kinds.CATEGORY_NOT_WORD: r"\W",
}


class TooLong(Exception):
    """A match was broken off."""


@contextmanager
def within(seconds: float) -> Iterator[None]:
    """Break off, with TooLong, what takes more than so much of the processor: matching looks at signals."""

    def end(number: int, frame: object) -> None:
        raise TooLong

    before = signal.signal(signal.SIGVTALRM, end)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def matching(expression: Expression) -> Callable[[str], None]:
    """A function that has a text gone through as the program does: at its beginning, all of it, or anywhere."""
    compiled: Any = re.compile(expression.pattern, expression.flags)
    is_bytes = isinstance(expression.pattern, bytes)
    is_anywhere = bool(expression.ways - {"compile", "match", "fullmatch"})

    def go_through(text: str) -> None:
        given: Any = text.encode("latin-1", "replace") if is_bytes else text
        if "match" in expression.ways:
            compiled.match(given)
        if "fullmatch" in expression.ways:
            compiled.fullmatch(given)
        if is_anywhere:
            for _ in compiled.finditer(given):
                pass

    return go_through


def too_long(expression: Expression, letters: int, seconds: float) -> Attack | None:
    """The first text of about so many letters that takes longer than so much of the processor."""
    go_through = matching(expression)
    for attack in attacks_on(expression, FEW_ENDS):
        try:
            with within(seconds):
                go_through(attack.text(letters))
        except TooLong:
            return attack
    return None


def growth(expression: Expression, attack: Attack) -> tuple[float, float]:
    """By which power of its length the time grows, and the seconds of the processor for 4,000 letters."""
    from math import log2

    go_through = matching(expression)
    took: list[float] = []
    for letters in (1_000, 2_000, 4_000):
        began = time.process_time()
        try:
            with within(MOST_S):
                go_through(attack.text(letters))
        except TooLong:
            return 9.0, MOST_S
        took.append(time.process_time() - began)
    return log2(max(took[2], 1e-3) / max(took[0], 1e-3)) / 2, took[2]


MOST_S: Final = 10.0
LETTERS: Final = 4_000
QUICK_S: Final = 0.03
"""What goes on by the length of the text alone takes a hundredth of that for so many letters."""


def main() -> int:
    """By hand."""
    wanted = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    wanted.add_argument("--most", type=int, default=200_000)
    most = wanted.parse_args().most
    tried = texts = slow = 0
    for one in expressions():
        tried += 1
        go_through = matching(one)
        worst: tuple[float, float, Attack] | None = None
        for attack in attacks_on(one):
            texts += 1
            try:
                with within(QUICK_S):
                    go_through(attack.text(LETTERS))
            except TooLong:
                power, seconds = growth(one, attack)
                at_most = seconds * (most / LETTERS) ** min(max(power, 1), 9)
                worst = max(worst or (0.0, 1.0, attack), (at_most, power, attack))
                if power > 2.6:
                    break
        if worst is not None:
            slow += 1
            begun, repeated, end = worst[2]
            print(f"{worst[0]:9.3g} s  power {worst[1]:.1f}  {one.place} {begun[:30]!r} {repeated[:30]!r} {end!r}")
            print(f"            {one.pattern!r}"[:200], flush=True)
    print(f"{tried} expressions, {texts} texts; {slow} grow faster than the text (seconds are for {most:,} letters)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
