"""Small faults put into a module's syntax tree, one at a time: what mutation testing runs the tests against.

A mutant is the tree of one module with one place altered: a comparison, a sign, a limit, a branch never taken, a line left
out. Words shown to people, annotations, docstrings and decorators are left alone; a wrong word is not a wrong circuit.
The idea: DeMillo, Lipton and Sayward, 'Hints on test data selection', IEEE Computer 11(4), 1978; the kinds of change
are the sufficient ones of Offutt et al., ACM TOSEM 5(2), 1996 (from memory), and a few of Python's own.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TypeVar

_COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.BitXor: ast.BitAnd,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}
_CALLS = {"min": "max", "max": "min", "any": "all", "all": "any", "sorted": "list", "reversed": "list"}
_PLAIN = {"abs", "frozenset", "conjugate"}
_PARTS = {"real": "imag", "imag": "real", "add": "discard"}
_WORDS = {"_", "mark", "plural", "format", "InputError", "Fault", "fault", "ValueError", "Caution", "join"}
Tree = TypeVar("Tree", bound=ast.AST)
_LEFT_ALONE = (ast.JoinedStr, ast.Raise, ast.Import, ast.ImportFrom, ast.Assert)


@dataclass(frozen=True, slots=True)
class Mutant:
    """One altered place of a module: where it is, and what its statement says before and after."""

    module: str
    line: int
    start: int
    number: int
    kind: str
    before: str
    after: str

    @property
    def key(self) -> str:
        """Return what still names this mutant after lines above it have moved."""
        return f"{self.module} | {self.before} | {self.after}"


def mutants_of(module: str, source: str) -> list[Mutant]:
    """Return every mutant of a module, in the order of its syntax tree."""
    tree = ast.parse(source)
    statement_of = _statements(tree)
    found = []
    for number, (kind, old, new) in enumerate(_changes(tree)):
        statement = statement_of[id(old)]
        before = _first_line(statement)
        after = _first_line(_replaced(statement, old, new))
        line = getattr(old, "lineno", statement.lineno)
        found.append(Mutant(module, line, statement.lineno, number, kind, before, after))
    return found


def mutated(source: str, number: int) -> ast.Module:
    """Return the whole tree of a module with one of its mutants in place, lines numbered as in the source."""
    tree = ast.parse(source)
    _, old, new = next(islice(_changes(tree), number, None))
    return ast.fix_missing_locations(_put(tree, old, new))


def module_name(path: Path, root: Path) -> str:
    """Return the dotted name of a module from its file below ``src``."""
    return ".".join(path.relative_to(root).with_suffix("").parts)


def _statements(tree: ast.Module) -> dict[int, ast.stmt]:
    """Return by the id of every node the smallest statement that holds it."""
    held: dict[int, ast.stmt] = {}

    def fill(node: ast.AST, statement: ast.stmt) -> None:
        held[id(node)] = statement
        for child in ast.iter_child_nodes(node):
            fill(child, child if isinstance(child, ast.stmt) else statement)

    for statement in tree.body:
        fill(statement, statement)
    return held


def _first_line(node: ast.AST) -> str:
    """Return a statement as one line: a compound one only as its head."""
    text = ast.unparse(node)
    if isinstance(node, ast.If | ast.For | ast.While | ast.With | ast.Match | ast.FunctionDef | ast.ClassDef):
        text = next(line for line in text.splitlines() if not line.startswith("@"))
    return " ".join(text.split())[:200]


def _replaced(statement: ast.stmt, old: ast.AST, new: ast.AST) -> ast.AST:
    """Return a copy of a statement with one node in another's place; the statement itself is left as it was."""
    if statement is old:
        return new
    mark = "changed here"
    setattr(old, mark, True)
    other = copy.deepcopy(statement)
    delattr(old, mark)
    return _put(other, next(node for node in ast.walk(other) if hasattr(node, mark)), new)


def _put(tree: Tree, old: ast.AST, new: ast.AST) -> Tree:
    ast.copy_location(new, old)
    for parent in ast.walk(tree):
        for name, value in ast.iter_fields(parent):
            if value is old:
                setattr(parent, name, new)
                return tree
            if isinstance(value, list) and any(item is old for item in value):
                setattr(parent, name, [new if item is old else item for item in value])
                return tree
    raise LookupError("the node is not in the tree")


def _changes(tree: ast.AST) -> Iterator[tuple[str, ast.AST, ast.AST]]:
    for node in _worth_altering(tree):
        for kind, new in _altered(node):
            yield kind, node, new


def _worth_altering(node: ast.AST) -> Iterator[ast.AST]:
    """Yield the nodes whose meaning is logic or arithmetic, not words, types or declarations."""
    for name, value in ast.iter_fields(node):
        if name in {"annotation", "returns", "decorator_list", "bases", "type_params", "pattern"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or isinstance(child, _LEFT_ALONE) or _is_words(child):
                continue
            yield child
            yield from _worth_altering(child)


def _is_words(node: ast.AST) -> bool:
    """Say whether a node is words, a type or a declaration."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return True
    if isinstance(node, ast.keyword) and node.arg in {"strict", "slots", "frozen", "kw_only", "encoding"}:
        return True
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.BitOr) and not ast.unparse(node).islower():
        return all(isinstance(name, ast.Name | ast.Attribute) for name in _sides(node)) and _capital(node)
    if isinstance(node, ast.Assign) and isinstance(node.value, ast.BinOp) and _capital(node):
        return isinstance(node.value.op, ast.BitOr)
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id == "__all__":
        return True
    if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
        return True
    if not isinstance(node, ast.Call):
        return False
    called = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
    return called in _WORDS or called in {"cast", "TypeVar", "compiled"}


def _sides(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.BinOp):
        yield from _sides(node.left)
        yield from _sides(node.right)
    else:
        yield node


def _capital(node: ast.AST) -> bool:
    """Say whether a node begins as the name of a class does."""
    text = ast.unparse(node).rpartition(".")[2]
    return text[:1].isupper() and text[1:2].islower()


def _altered(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:  # noqa: PLR0912, PLR0915 -- one arm for each kind of change
    match node:
        case ast.Compare():
            for place, operator in enumerate(node.ops):
                new = copy.deepcopy(node)
                new.ops[place] = _COMPARISONS[type(operator)]()
                yield "comparison", new
        case ast.BinOp() if type(node.op) in _OPERATORS:
            new_sum = copy.deepcopy(node)
            new_sum.op = _OPERATORS[type(node.op)]()
            yield "operator", new_sum
        case ast.AugAssign() if type(node.op) in _OPERATORS:
            new_step = copy.deepcopy(node)
            new_step.op = _OPERATORS[type(node.op)]()
            yield "operator", new_step
        case ast.BoolOp():
            other = copy.deepcopy(node)
            other.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            yield "and-or", other
            for place in range(len(node.values)):
                left = [copy.deepcopy(value) for at, value in enumerate(node.values) if at != place]
                yield "condition dropped", left[0] if len(left) == 1 else ast.BoolOp(copy.deepcopy(node.op), left)
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield "sign or not dropped", copy.deepcopy(node.operand)
        case ast.Constant(value=bool()):
            yield "constant", ast.Constant(not node.value)
        case ast.Constant(value=int() as whole):
            yield "constant", ast.Constant(whole + 1)
        case ast.Constant(value=(float() | complex()) as number):
            yield "constant", ast.Constant(number * 1.5 or 0.5)
        case ast.If() | ast.IfExp() | ast.While():
            for value in (True, False):
                if not (isinstance(node, ast.While) and value):
                    new_if = copy.deepcopy(node)
                    new_if.test = ast.Constant(value)
                    yield "branch", new_if
        case ast.comprehension(ifs=[_, *_]):
            kept = copy.deepcopy(node)
            kept.ifs = []
            yield "filter dropped", kept
        case ast.Expr(value=ast.Call() | ast.Yield() | ast.YieldFrom()):
            if not (isinstance(node.value, ast.Call) and _is_words(node.value)):
                yield "line left out", ast.Expr(ast.Constant(value=None))
        case ast.Break():
            yield "loop", ast.Continue()
        case ast.Continue():
            yield "loop", ast.Break()
        case ast.Attribute(ctx=ast.Load()) if node.attr in _PARTS:
            yield "name", ast.Attribute(copy.deepcopy(node.value), _PARTS[node.attr], ast.Load())
        case ast.Call(func=ast.Name(id=name)) if name in _CALLS or (name in _PLAIN and len(node.args) == 1):
            if name in _PLAIN:
                yield "call dropped", copy.deepcopy(node.args[0])
            elif not (_CALLS[name] == "list" and node.keywords):
                new_call = copy.deepcopy(node)
                new_call.func = ast.Name(_CALLS[name], ast.Load())
                yield "name", new_call
        case ast.Call(func=ast.Attribute(attr="conjugate", value=value)):
            yield "call dropped", copy.deepcopy(value)
        case _:
            return
