"""Every regular expression of the program, and what could make one slow: which loops share characters, and how to feed them."""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src"
_PARSER: Any = importlib.import_module("re._parser")
FUNCTIONS = frozenset({"match", "fullmatch", "search", "sub", "subn", "split", "findall", "finditer"})
WHOLE, FROM_START = frozenset({"fullmatch"}), frozenset({"match"})
_ALPHABET = (*map(chr, range(128)), "é", "–", "Ω", "\u2028")
_END = len(_ALPHABET)
_CATEGORIES = {"DIGIT": r"\d", "SPACE": r"\s", "WORD": r"\w"}
_COPIED = 12
"""A repeat of at most so many is written out; a longer one counts as one without an end."""
_JS_TOKEN = re.compile(
    r"""//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'|`(?:\\.|[^`\\])*`"""
    r"""|(?P<before>(?:[=(,:\[!&|?{};>]|\breturn)\s*)(?P<slash>/(?![/*])(?P<body>(?:\\.|\[(?:\\.|[^\]\\\n])*\]|[^/\\\n\[])+)/(?P<flags>[a-z]*))""",
    re.DOTALL,
)


@dataclass(frozen=True)
class Expression:
    """One regular expression as the program uses it."""

    where: str
    """File and line."""
    pattern: str
    how: str
    """A function of ``re``; 'pydantic' or 'javascript' where another engine runs it."""
    flags: int = 0
    marks: str = ""
    """JavaScript's flags."""

    def __str__(self) -> str:
        return f"{self.where} {self.how} {self.pattern!r}"


# Which there are.


def python_expressions() -> tuple[Expression, ...]:
    """Return what the modules of the program give to ``re`` and, as ``pattern=``, to pydantic.

    Raises
    ------
    AssertionError
        One is made in a way that is not understood here, or is compiled and never used.
    """
    trees = {path: ast.parse(path.read_text("utf-8")) for path in sorted(SOURCE.rglob("*.py"))}
    used: dict[str, set[str]] = {}
    for tree in trees.values():
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and node.attr in FUNCTIONS:
                name = getattr(node.value, "attr", "") or getattr(node.value, "id", "")
                used.setdefault(name, set()).add(node.attr)
    return tuple(found for path, tree in trees.items() for found in _of_module(path, tree, used))


def _of_module(path: Path, tree: ast.Module, used: dict[str, set[str]]) -> Iterator[Expression]:
    dotted = ".".join(path.relative_to(SOURCE).with_suffix("").parts).removesuffix(".__init__")
    here = str(path.relative_to(ROOT))
    names = {id(node.value): node.targets[0].id for node in ast.walk(tree)
             if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)}  # fmt: skip
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        for word in node.keywords:
            if word.arg == "pattern":
                (pattern,) = _values(word.value, dotted)
                yield Expression(f"{here}:{node.lineno}", pattern, "pydantic")
        of = node.func
        if not (isinstance(of, ast.Attribute) and isinstance(of.value, ast.Name) and of.value.id == "re" and node.args):
            continue
        flags = [arg for arg in (*node.args, *(word.value for word in node.keywords)) if "re." in ast.unparse(arg)]
        bits = sum(int(value) for arg in flags for value in _values(arg, dotted))
        if of.attr in FUNCTIONS:
            ways = {of.attr}
        elif of.attr == "compile":
            ways = used.get(names.get(id(node), ""), set())
            assert ways, f"{here}:{node.lineno}: compiled, but it cannot be seen how it is used"
        else:
            continue
        for pattern in _values(node.args[0], dotted):
            yield from (Expression(f"{here}:{node.lineno}", pattern, how, bits) for how in sorted(ways))


def _values(node: ast.expr, dotted: str) -> list[Any]:
    """Return what an expression of a module is worth; of a loop's variable, all that it runs through."""
    module = importlib.import_module(dotted)
    if isinstance(node, ast.Name) and not hasattr(module, node.id):
        source = ast.parse(Path(str(module.__file__)).read_text("utf-8"))
        for loop in (found for found in ast.walk(source) if isinstance(found, ast.comprehension)):
            places = [getattr(part, "id", "") for part in getattr(loop.target, "elts", [loop.target])]
            if node.id in places:
                return [item[places.index(node.id)] for item in _values(loop.iter, dotted)[0]]
    return [eval(compile(ast.Expression(node), dotted, "eval"), vars(module))]


def script_expressions() -> tuple[Expression, ...]:
    """Return what stands between slashes in the scripts of the pages."""
    found = []
    for path in sorted((SOURCE / "subbase").rglob("*.js")):
        text = path.read_text("utf-8")
        assert "RegExp(" not in text, f"{path}: an expression made from text is not looked at here"
        for token in _JS_TOKEN.finditer(text):
            if token["body"]:
                where = f"{path.relative_to(ROOT)}:{text.count(chr(10), 0, token.start('slash')) + 1}"
                found.append(Expression(where, token["body"], "javascript", marks=token["flags"]))
    return tuple(found)


def as_python(expression: Expression) -> Expression:
    """Return a script's expression in Python's spelling; only what is looked at here needs to be the same."""
    flags = re.IGNORECASE if "i" in expression.marks else 0
    return replace(expression, pattern=expression.pattern.replace("(?<name>", "(?P<name>"), flags=flags)


# What it is made of: positions, each with the characters that it takes, and which may follow which (Glushkov 1961).


@dataclass
class Positions:
    """An expression as a graph of positions."""

    takes: list[frozenset[int]] = field(default_factory=list)
    """Of each position: indices of characters."""
    follow: list[set[int]] = field(default_factory=list)
    first: set[int] = field(default_factory=set)
    last: set[int] = field(default_factory=set)
    empty: bool = False
    """Whether it matches nothing at all."""
    doubled: bool = False
    """Whether two repeats, one in the other, lead from a position to the same next one."""


def positions(expression: Expression) -> Positions:
    """Return the graph of an expression; what it looks at without taking counts as nothing."""
    graph = Positions()
    tree = _PARSER.parse(expression.pattern, expression.flags)
    value: Any
    operation, value = (str(tree.data[0][0]), tree.data[0][1]) if tree.data else ("", 0)
    anchored = operation == "AT" and str(value).startswith("AT_BEGINNING")
    graph.empty, graph.first, graph.last = _sequence(graph, tree, tree.state.flags)
    if expression.how in WHOLE:
        at = _position(graph, frozenset({_END}))
        _joined(graph, graph.last, {at})
        graph.first, graph.last = graph.first | ({at} if graph.empty else set()), {at}
    if expression.how not in WHOLE | FROM_START and not anchored:
        before = _position(graph, frozenset(range(_END)))
        # What must not stand before it is all that a search may not begin after.
        barred = _barred(value, tree.state.flags) if operation == "ASSERT_NOT" and value[0] < 0 else frozenset()
        last = _position(graph, frozenset(range(_END)) - barred)
        _joined(graph, {last}, graph.first)
        _joined(graph, {before}, {before, last})
        graph.first = graph.first | {before, last}
    return graph


Parts = tuple[bool, set[int], set[int]]


def _position(graph: Positions, takes: frozenset[int]) -> int:
    graph.takes.append(takes)
    graph.follow.append(set())
    return len(graph.takes) - 1


def _barred(value: Any, flags: int) -> frozenset[int]:
    """Return the characters of a 'not after', when it is one character; none of a longer one."""
    if len(value[1]) != 1:
        return frozenset()
    operation, what = value[1][0]
    return frozenset(at for at, char in enumerate(_ALPHABET) if _fits(str(operation), what, char, flags))


def _joined(graph: Positions, last: set[int], first: set[int]) -> None:
    for at in last:
        graph.doubled = graph.doubled or bool(graph.follow[at] & first)
        graph.follow[at] |= first


def _sequence(graph: Positions, items: Any, flags: int) -> Parts:
    return _chain(graph, (_one(graph, str(operation), value, flags) for operation, value in items))


def _chain(graph: Positions, links: Iterable[Parts]) -> Parts:
    empty, first, last = True, set[int](), set[int]()
    for its_empty, its_first, its_last in links:
        _joined(graph, last, its_first)
        first = first | its_first if empty else first
        last = last | its_last if its_empty else its_last
        empty = empty and its_empty
    return empty, first, last


def _one(graph: Positions, operation: str, value: Any, flags: int) -> Parts:
    if operation == "SUBPATTERN":
        return _sequence(graph, value[3], flags)
    if operation == "BRANCH":
        parts = [_sequence(graph, branch, flags) for branch in value[1]]
        return any(part[0] for part in parts), set().union(*(p[1] for p in parts)), set().union(*(p[2] for p in parts))
    if operation in ("MAX_REPEAT", "MIN_REPEAT"):
        return _repeat(graph, value, flags)
    if operation == "AT":
        if str(value) not in ("AT_END", "AT_END_STRING"):
            return True, set(), set()
        at = _position(graph, frozenset({_END}))
        return False, {at}, {at}
    if operation in ("ASSERT", "ASSERT_NOT"):
        return True, set(), set()
    at = _position(
        graph, frozenset(index for index, char in enumerate(_ALPHABET) if _fits(operation, value, char, flags))
    )
    return False, {at}, {at}


def _repeat(graph: Positions, value: tuple[int, int, Any], flags: int) -> Parts:
    least, most, body = value
    if most <= _COPIED:
        turns = ((turn, _sequence(graph, body, flags)) for turn in range(most))
        return _chain(graph, ((empty or turn >= least, first, last) for turn, (empty, first, last) in turns))
    empty, first, last = _sequence(graph, body, flags)
    _joined(graph, last, first)
    return empty or least == 0, first, last


def _fits(operation: str, value: Any, char: str, flags: int) -> bool:
    spelled = {char, char.lower(), char.upper()} if flags & re.IGNORECASE else {char}
    if operation == "LITERAL":
        return chr(value) in spelled
    if operation == "NOT_LITERAL":
        return chr(value) not in spelled
    if operation == "ANY":
        return char != "\n" or bool(flags & re.DOTALL)
    assert operation == "IN", f"{operation} is not looked at here"
    negated = str(value[0][0]) == "NEGATE"
    return negated != any(_in(str(kind), what, each) for kind, what in value[negated:] for each in spelled)


def _in(kind: str, what: Any, char: str) -> bool:
    if kind == "LITERAL":
        return chr(what) == char
    if kind == "RANGE":
        return bool(what[0] <= ord(char) <= what[1])
    assert kind == "CATEGORY", kind
    name = str(what).removeprefix("CATEGORY_").removeprefix("UNI_")
    found = re.fullmatch(_CATEGORIES[name.removeprefix("NOT_")], char)
    return (found is None) == name.startswith("NOT_")


# What could make it slow: two loops that the same text goes through (Weber and Seidl 1991, on finite automata).


def exponential(graph: Positions) -> bool:
    """Return whether some text leads from a position back to itself in two ways."""
    pairs = {at: _reached(graph, (at, at)) for at in range(len(graph.takes))}
    return graph.doubled or any(
        one != other and (at, at) in _reached(graph, (one, other))
        for at, seen in pairs.items()
        for one, other in seen
    )  # fmt: skip


def quadratic(graph: Positions) -> bool:
    """Return whether some text turns in one loop, leads from it to a second one, and turns in that one too.

    Where the second one may be the end, all has matched and nothing is tried again.
    """
    loops = {at for at in range(len(graph.takes)) if (at,) in _reached(graph, (at,))}
    return any(
        (one, other, other) in _reached(graph, (one, one, other))
        for one in loops
        for other in loops - graph.last - {one}
        if (other,) in _reached(graph, (one,))
    )


def _reached(graph: Positions, begin: tuple[int, ...]) -> set[tuple[int, ...]]:
    """Return where that many walks over the same text may get to, after one character at least."""
    seen: set[tuple[int, ...]] = set()
    waiting = [begin]
    while waiting:
        ways: list[tuple[tuple[int, ...], frozenset[int] | None]] = [((), None)]
        for at in waiting.pop():
            ways = [
                ((*walked, to), shared)
                for walked, common in ways
                for to in graph.follow[at]
                if (shared := graph.takes[to] if common is None else common & graph.takes[to])
            ]
        fresh = {walked for walked, _shared in ways} - seen
        seen |= fresh
        waiting.extend(fresh)
    return seen


# What to feed it.


def pumps(expression: Expression) -> tuple[tuple[str, str], ...]:
    """Return beginnings, and what to repeat after each: of every loop its way there and round, and characters that it knows."""
    graph = positions(replace(expression, how="match"))
    ways = _ways(graph)
    found: dict[tuple[str, str], None] = {}
    for at, way in ways.items():
        for round_ in _rounds(graph, at):
            for shown in _chosen(graph, round_):
                begin = "".join(_ALPHABET[min(graph.takes[step])] for step in way)
                found |= {(begin, shown): None, ("", begin + shown): None, ("", shown): None}
    return tuple(found)


def _ways(graph: Positions) -> dict[int, tuple[int, ...]]:
    """Return the shortest way to each position; the end takes no character and leads nowhere."""
    ways: dict[int, tuple[int, ...]] = {at: (at,) for at in sorted(graph.first) if graph.takes[at] - {_END}}
    waiting = list(ways)
    for at in waiting:
        for to in sorted(graph.follow[at]):
            if to not in ways and graph.takes[to] - {_END}:
                ways[to] = (*ways[at], to)
                waiting.append(to)
    return ways


def _rounds(graph: Positions, at: int) -> Iterator[tuple[int, ...]]:
    """Give the ways from a position back to itself: direct, or the shortest through each of those that follow."""
    if at in graph.follow[at]:
        yield (at,)
    for by in sorted(graph.follow[at] - {at}):
        way = _ways(replace(graph, first={by})).get(at)
        if way:
            yield way


def _chosen(graph: Positions, way: tuple[int, ...]) -> Iterator[str]:
    """Give texts for a way: of each place a letter, a figure, a blank, a sign, a lowest character, as far as it takes them."""
    takes = [sorted(graph.takes[step]) for step in way]
    for pick in (str.isalpha, str.isdigit, str.isspace, lambda char: char in "'\"<>{}()[]:/-_.,", lambda _char: True):
        fitting = [[_ALPHABET[index] for index in each if pick(_ALPHABET[index])] for each in takes]
        yield "".join((some or [_ALPHABET[each[0]]])[0] for some, each in zip(fitting, takes, strict=True))
