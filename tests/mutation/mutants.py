"""Mutants: each a place in the source, the text there, and the text put in its place.

Python is changed by the operators of cosmic-ray, with two of our own beside them; SQL in string literals by those
below, since that is where facts are worked out. Left alone are annotations, docstrings, what only a type checker reads,
comparisons by identity with anything but None, the wording of messages, and what makes no difference by construction
(:func:`_is_without_effect`).
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from typing import Any, NamedTuple, TypeGuard

FAMILIES = {
    "ReplaceComparisonOperator_": (
        *("Eq_NotEq", "Eq_LtE", "Eq_GtE", "NotEq_Eq", "NotEq_Lt", "NotEq_Gt", "Lt_LtE", "Lt_GtE", "LtE_Lt", "LtE_Gt"),
        *("Gt_GtE", "Gt_LtE", "GtE_Gt", "GtE_Lt", "Is_IsNot", "IsNot_Is"),
    ),
    "ReplaceBinaryOperator_": (
        *("Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul", "FloorDiv_Div", "Mod_FloorDiv", "Pow_Mul"),
        *("BitOr_BitAnd", "BitAnd_BitOr"),
    ),
    "ReplaceUnaryOperator_": ("USub_UAdd", "Delete_Not"),
    "": (
        *("AddNot", "ReplaceTrueWithFalse", "ReplaceFalseWithTrue", "ReplaceAndWithOr", "ReplaceOrWithAnd"),
        *("ReplaceBreakWithContinue", "ReplaceContinueWithBreak", "ExceptionReplacer", "NumberReplacer"),
        *("RemoveDecorator", "ZeroIterationForLoop"),
    ),
}
"""The operators of cosmic-ray in use, by the beginning of their names."""

SWAPS = (
    (r"<=", "<", "comparison"),
    (r">=", ">", "comparison"),
    (r"(?<=\s)<(?=\s)", "<=", "comparison"),
    (r"(?<=\s)>(?=\s)", ">=", "comparison"),
    (r"<>", "=", "comparison"),
    (r" DESC\b", "", "direction"),
    (r" ASC\b", " DESC", "direction"),
    (r"\bmin\(", "max(", "aggregate"),
    (r"\bmax\(", "min(", "aggregate"),
    (r"\bsum\(", "max(", "aggregate"),
    (r"\blag\(", "lead(", "aggregate"),
    (r"\blead\(", "lag(", "aggregate"),
    (r"\bAND\b", "OR", "boolean"),
    (r"\bOR\b(?! IGNORE| REPLACE)", "AND", "boolean"),
    (r" \+ ", " - ", "arithmetic"),
    (r" - ", " + ", "arithmetic"),
    (r"\bIS NOT NULL\b", "IS NULL", "null"),
    (r"\bIS NULL\b", "IS NOT NULL", "null"),
    (r"\bIS NOT(?! NULL)\b", "IS", "null"),
    (r"\bLEFT JOIN\b", "JOIN", "join"),
    (r"\bUNION ALL\b", "UNION", "join"),
    (r"\bNOT EXISTS\b", "EXISTS", "exists"),
    (r"(?<!NOT )(?<!IF )\bEXISTS\b", "NOT EXISTS", "exists"),
)
_SQL = re.compile(
    r"\b(SELECT|FROM|WHERE|JOIN|ORDER BY|CASE|INSERT|UPDATE|DELETE|LIMIT|IS NULL|IS NOT NULL|OVER)\b"
    r"| DESC\b|\bcoalesce\(|\bround\(|\bsum\(| AND NOT "
)
_TERMS = re.compile(r"[\w{}.\"]+( DESC)?(, [\w{}.\"]+( DESC)?)+")
_SENTENCE = re.compile(r"[a-z]{2,} [a-z]{2,}")
_ONLY_FOR_SPEED = ("_MANY_ROWS", "_REBUILD_SHARE")
"""Thresholds that only decide when an import sets indexes and triggers aside."""
_SIZES = ("CHUNK", "BLOCK_ROWS", "CACHED_SPELLINGS", "LONGEST_CACHED", "CACHE_KB", "_VISCOSITIES_REMEMBERED")
"""Sizes of read buffers and caches."""
_SMALLEST_BUFFER = 1024
"""A ``read`` of as many bytes or more fills a buffer; one of fewer looks at what a file begins with."""
_WORDING = ("wanted", "remedy", "words", "what", "found", "about", "detail", "where")


class Mutant(NamedTuple):
    """One change of one file: the text between two offsets, and the text put in its place."""

    file: str
    line: int
    family: str
    start: int
    end: int
    before: str
    after: str

    @property
    def is_sql(self) -> bool:
        return self.family.startswith("SQL")

    def applied(self, source: str) -> str:
        """The source with the change made."""
        return source[: self.start] + self.after + source[self.end :]


class Site(NamedTuple):
    """A place in a file with all that one family of operators makes of it; of these one is drawn at most."""

    file: str
    start: int
    family: str
    variants: tuple[tuple[str, int] | tuple[int, int, str], ...]
    """Name of an operator with its occurrence in the file, or the offsets of a text and the text put in its place."""

    def mutants(self, source: str) -> list[Mutant]:
        """Its mutants, without those that do not parse."""
        found = []
        for variant in self.variants:
            change = _by_operator(source, *variant) if isinstance(variant[0], str) else variant
            if change is None:
                continue
            start, end, after = change
            blanks = end - start - len(source[start:end].lstrip())
            line = source.count("\n", 0, start + blanks) + 1
            mutant = Mutant(self.file, line, self.family, start, end, source[start:end], after)
            try:
                ast.parse(mutant.applied(source))
            except SyntaxError:
                continue
            found.append(mutant)
        return found


def sites(source: str, name: str) -> list[Site]:
    """All places of a file, in order."""
    tree = ast.parse(source)
    offsets = _Offsets(source)
    left_alone = list(_left_alone(tree, offsets))
    sums = [
        (offsets.span(node.left)[1], offsets.span(node.right)[0])
        for node in ast.walk(tree)
        if isinstance(node, ast.BinOp)
    ]
    found: dict[tuple[int, str], list[Any]] = {}
    for family, start, end, variant in (*_of_cosmic_ray(source, offsets), *_of_ours(tree, source, offsets)):
        if family == "ReplaceBinaryOperator" and not any(first <= start < last for first, last in sums):
            continue  # the star of a signature
        if family == "RemoveDecorator" and source[start:end].strip() == "@cache":
            continue  # the same results, worked out again
        if not any(first <= start and end <= last for first, last in left_alone):
            found.setdefault((start, family), []).append(variant)
    for family, start, end, after in _of_sql(tree, source, offsets):
        found.setdefault((start, family), []).append((start, end, after))
    return [Site(name, start, family, tuple(variants)) for (start, family), variants in sorted(found.items())]


class _Offsets:
    """Offsets in a source from lines (from 1) with columns."""

    def __init__(self, source: str) -> None:
        self.lines = source.splitlines(keepends=True)
        self.starts = [0]
        for line in self.lines:
            self.starts.append(self.starts[-1] + len(line))

    def at(self, line: int, column: int) -> int:
        """From a column in characters."""
        return self.starts[line - 1] + column

    def at_byte(self, line: int, column: int) -> int:
        """From a column in bytes of UTF-8, as ast counts."""
        return self.starts[line - 1] + len(self.lines[line - 1].encode()[:column].decode())

    def span(self, node: ast.AST) -> tuple[int, int]:
        assert isinstance(node, ast.expr | ast.stmt | ast.keyword | ast.arg)
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return self.at_byte(node.lineno, node.col_offset), self.at_byte(node.end_lineno, node.end_col_offset)


@cache
def _operators() -> dict[str, tuple[str, Any]]:
    """By their names: the family, and the operator itself."""
    from cosmic_ray.plugins import get_operator

    return {
        f"{prefix}{one}": (prefix.strip("_") or one, get_operator(f"core/{prefix}{one}")())
        for prefix, names in FAMILIES.items()
        for one in names
    }


def _of_cosmic_ray(source: str, offsets: _Offsets) -> Iterator[tuple[str, int, int, tuple[str, int]]]:
    from cosmic_ray.ast import ast_nodes, get_ast

    nodes = list(ast_nodes(get_ast(source)))
    for name, (family, operator) in _operators().items():
        count = 0
        for node in nodes:
            for first, last in operator.mutation_positions(node):
                yield family, offsets.at(*first), offsets.at(*last), (name, count)
                count += 1


def _by_operator(source: str, name: str, occurrence: int) -> tuple[int, int, str] | None:
    """What cosmic-ray makes of a file, as the difference between the two texts; None where it makes nothing of it."""
    from cosmic_ray.mutating import mutate_code

    try:
        mutated = mutate_code(source, _operators()[name][1], occurrence)
    except AttributeError:  # an exception named with its module
        return None
    if mutated is None or mutated == source:
        return None
    start = next(i for i, (a, b) in enumerate(zip(source, mutated, strict=False)) if a != b)
    behind = 0
    longest = min(len(source), len(mutated)) - start
    while behind < longest and source[-1 - behind] == mutated[-1 - behind]:
        behind += 1
    return start, len(source) - behind, mutated[start : len(mutated) - behind]


def _of_ours(tree: ast.Module, source: str, offsets: _Offsets) -> Iterator[tuple[str, int, int, tuple[int, int, str]]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn):
            start = offsets.span(node.left)[1]
            between = source[start : offsets.span(node.comparators[0])[0]]
            if sign := re.search(r"\bnot\s+in\b|\bin\b", between):
                first, last = start + sign.start(), start + sign.end()
                after = "in" if isinstance(node.ops[0], ast.NotIn) else "not in"
                yield "Membership", first, last, (first, last, after)
        elif isinstance(node, ast.Return) and ast.unparse(node.value or ast.Constant(None)) not in ("None", "False"):
            first, last = offsets.span(node.value)
            yield "ReturnNone", first, last, (first, last, "None")


def _left_alone(tree: ast.Module, offsets: _Offsets) -> Iterator[tuple[int, int]]:
    """Annotations, docstrings, what only a type checker reads, and wording."""
    for node in ast.walk(tree):
        if _is_without_effect(node):
            yield offsets.span(node)
        elif isinstance(node, ast.AnnAssign | ast.arg) and node.annotation is not None:
            yield offsets.span(node.annotation)
        elif isinstance(node, ast.FunctionDef) and node.returns is not None:
            yield offsets.span(node.returns)
        elif _is_unread_or_wording(node):
            yield offsets.span(node)
        elif isinstance(node, ast.If | ast.IfExp) and _names_any(node.test, _ONLY_FOR_SPEED):
            yield offsets.span(node.test)
        elif isinstance(node, ast.Call) and _is_filling_a_buffer(node):
            yield offsets.span(node.args[0])
        elif _is_joining_texts(node):
            yield offsets.span(node.left)[1], offsets.span(node.right)[0]


def _is_unread_or_wording(node: ast.AST) -> bool:
    """Whether a node is for a type checker, a docstring, or the words of a message."""
    if isinstance(node, ast.If):
        return isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
    if isinstance(node, ast.Expr):
        return isinstance(node.value, ast.Constant)
    if isinstance(node, ast.keyword):
        return node.arg in _WORDING
    if isinstance(node, ast.Assign):
        name = node.targets[0]
        return isinstance(name, ast.Name) and name.id in _WORDING and isinstance(node.value, ast.JoinedStr)
    if isinstance(node, ast.JoinedStr):
        text = "".join(str(one.value) for one in node.values if isinstance(one, ast.Constant))
        return bool(_SENTENCE.search(text)) and not _SQL.search(text)
    return False


def _is_without_effect(node: ast.AST) -> bool:
    """Whether a node makes no difference by construction: a guard against a slip of the code, or a choice for speed."""
    if isinstance(node, ast.keyword):
        return node.arg == "strict" and ast.unparse(node.value) == "True"
    if isinstance(node, ast.AnnAssign):
        return _name_of(node) in (*_ONLY_FOR_SPEED, *_SIZES)
    return False


def _is_filling_a_buffer(node: ast.Call) -> bool:
    size = node.args[0] if isinstance(node.func, ast.Attribute) and node.func.attr == "read" and node.args else None
    return isinstance(size, ast.Constant) and isinstance(size.value, int) and size.value >= _SMALLEST_BUFFER


def _names_any(node: ast.AST, names: tuple[str, ...]) -> bool:
    return any(isinstance(part, ast.Name) and part.id in names for part in ast.walk(node))


def _is_joining_texts(node: ast.AST) -> TypeGuard[ast.BinOp]:
    is_sum = isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Mod)
    return is_sum and any(_is_text(one) for one in (node.left, node.right))


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def _of_sql(tree: ast.Module, source: str, offsets: _Offsets) -> Iterator[tuple[str, int, int, str]]:
    documents = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    inside = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in ast.walk(node)}
    orders = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign | ast.AnnAssign | ast.FunctionDef)
        and re.search(r"order|first|place_sql", _name_of(node).lower())
        for part in ast.walk(node)
    }
    for node in ast.walk(tree):
        is_string = isinstance(node, ast.JoinedStr) or (
            isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in inside
        )
        if not is_string or id(node) in documents:
            continue
        assert isinstance(node, ast.expr)
        start, end = offsets.span(node)
        text = source[start:end]
        seen = _without_braces(text)
        if _SQL.search(seen):
            for pattern, after, family in SWAPS:
                for found in re.finditer(pattern, seen):
                    if found.group() == "AND" and "BETWEEN" in seen[max(0, found.start() - 40) : found.start()]:
                        continue
                    yield f"SQL {family}", start + found.start(), start + found.end(), after
            yield from _coalesce_swapped(text, start)
            yield from _order_dropped(text, start)
        elif id(node) in orders and (listed := _TERMS.search(text)):
            yield from _terms_dropped(listed.group(), start + listed.start())


def _name_of(node: ast.Assign | ast.AnnAssign | ast.FunctionDef) -> str:
    target = (
        node.targets[0] if isinstance(node, ast.Assign) else node.target if isinstance(node, ast.AnnAssign) else node
    )
    return getattr(target, "id", getattr(target, "name", ""))


def _without_braces(text: str) -> str:
    """The text of the same length with everything in braces blotted out."""
    return re.sub(r"\{[^{}]*(\{[^{}]*\}[^{}]*)*\}", lambda found: "\0" * len(found.group()), text)


def _split(text: str) -> list[str]:
    """A list up to its end, at its commas outside brackets."""
    parts, depth, begun = [], 0, 0
    for place, sign in enumerate(text):
        depth += (sign in "([{") - (sign in ")]}")
        if sign == "," and depth == 0:
            parts.append(text[begun:place])
            begun = place + 1
    return [*parts, text[begun:]]


def _balanced(text: str, start: int) -> int:
    depth = 1
    for place in range(start, len(text)):
        depth += (text[place] == "(") - (text[place] == ")")
        if depth == 0:
            return place
    return len(text)


def _coalesce_swapped(text: str, start: int) -> Iterator[tuple[str, int, int, str]]:
    for found in re.finditer(r"\bcoalesce\(", text):
        end = _balanced(text, found.end())
        parts = _split(text[found.end() : end])
        if len(parts) >= 2 and '"\n' not in text[found.end() : end]:
            swapped = ", ".join(part.strip() for part in (parts[1], parts[0], *parts[2:]))
            yield "SQL coalesce", start + found.end(), start + end, swapped


def _order_dropped(text: str, start: int) -> Iterator[tuple[str, int, int, str]]:
    for found in re.finditer(r"\bORDER BY ", text):
        behind = text[found.end() : _balanced(text, found.end())]
        cut = re.search(r"\s+(LIMIT|ROWS|UNION|WINDOW)\b|\n|\"", behind)
        terms = behind[: cut.start()] if cut else behind
        if len(_split(terms)) > 1:
            yield from _terms_dropped(terms, start + found.end())
        elif not terms.strip().startswith("{"):
            yield "SQL order", start + found.start(), start + found.end() + len(terms), ""


def _terms_dropped(terms: str, start: int) -> Iterator[tuple[str, int, int, str]]:
    """One term less, each a place of its own."""
    parts = _split(terms)
    place = 0
    for number, part in enumerate(parts):
        first, last = (place, place + len(part) + 1) if number == 0 else (place - 1, place + len(part))
        yield "SQL order", start + first, start + last, ""
        place += len(part) + 1
