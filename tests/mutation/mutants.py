"""What can be changed in a module, one small thing at a time."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass

COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
}
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}
LEFT_ALONE = frozenset({"annotation", "returns", "decorator_list", "bases", "format_spec"})


@dataclass(frozen=True)
class Mutant:
    """One change: where, its statement's lines, what stood there, what does now, and how to make the changed module."""

    function: str
    line: int
    statement: range
    old: str
    new: str
    changed: Callable[[], ast.Module]


@dataclass(frozen=True)
class _Place:
    """A node, the chain of (parent, field, place in its list) that leads to it, and the function it is in."""

    node: ast.AST
    above: tuple[tuple[ast.AST, str, int | None], ...]
    function: str


def mutants_of(source: str) -> Iterator[Mutant]:
    """Yield every mutant of ``source``.

    >>> [(one.old, one.new) for one in mutants_of("def f(a, b):\\n    return a < b")]
    [('return a < b', 'return None'), ('a < b', 'a <= b'), ('a < b', 'a >= b')]
    """
    tree = ast.parse(source)
    for place in list(_places(tree, (), "")):
        for change in _changes(place.node):
            yield _made(tree, place, change)


def _places(node: ast.AST, above: tuple[tuple[ast.AST, str, int | None], ...], function: str) -> Iterator[_Place]:
    yield _Place(node, above, function)
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
        function = f"{function}.{node.name}".lstrip(".")
    for field, value in ast.iter_fields(node):
        if field in LEFT_ALONE or (isinstance(node, ast.ClassDef) and field == "keywords"):
            continue
        if isinstance(node, ast.keyword) and node.arg == "strict":  # of zip: only ever an assertion
            continue
        for at, child in enumerate(value if isinstance(value, list) else [value]):
            if isinstance(child, ast.AST):
                yield from _places(child, (*above, (node, field, at if isinstance(value, list) else None)), function)


def _changes(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what may stand in place of ``node``."""
    match node:
        case ast.Compare():
            yield from _other_comparisons(node)
        case ast.BinOp(op=operator) if type(operator) in ARITHMETIC:
            yield ast.BinOp(node.left, ARITHMETIC[type(operator)](), node.right)
        case ast.AugAssign(op=operator) if type(operator) in ARITHMETIC:
            yield ast.AugAssign(node.target, ARITHMETIC[type(operator)](), node.value)
        case ast.BoolOp():
            yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield node.operand
        case ast.Constant(value=int(value) | float(value)):
            yield ast.Constant(not value if isinstance(value, bool) else value + 1)
        case ast.Name(id=name, ctx=ast.Load()) if name in NAMES:
            yield ast.Name(NAMES[name], ast.Load())
        case ast.Return(value=ast.expr() as value) if not (isinstance(value, ast.Constant) and value.value is None):
            yield ast.Return(ast.Constant(None))
        case ast.Expr(value=ast.Call()) | ast.Continue():
            yield ast.Pass()


def _other_comparisons(node: ast.Compare) -> Iterator[ast.AST]:
    for at, operator in enumerate(node.ops):
        for other in COMPARISONS[type(operator)]:
            yield ast.Compare(node.left, [*node.ops[:at], other(), *node.ops[at + 1 :]], node.comparators)


def _made(tree: ast.Module, place: _Place, change: ast.AST) -> Mutant:
    parent, field, at = place.above[-1]
    shown = _shown(place)
    line = getattr(place.node, "lineno", 0)
    old = _told(shown)
    _put(parent, field, at, ast.copy_location(change, place.node))
    new = _told(change if shown is place.node else shown)
    _put(parent, field, at, place.node)

    def changed() -> ast.Module:
        _put(parent, field, at, ast.copy_location(change, place.node))
        made = ast.parse(ast.unparse(tree))  # a tree of its own: nodes may be shared with the unchanged one
        _put(parent, field, at, place.node)
        return made

    return Mutant(place.function or "(module)", line, _statement(place), old, new, changed)


def _statement(place: _Place) -> range:
    """Return the lines of the statement a node is in; of one with a body, those of the part above it."""
    inner: ast.AST = place.node
    for node in [*(parent for parent, _, _ in place.above), place.node][::-1]:
        if isinstance(node, ast.stmt | ast.ExceptHandler | ast.match_case):
            if isinstance(node, ast.FunctionDef):  # its defaults: as many lines as stand above its body
                return range(node.lineno, node.body[0].lineno)
            part = inner if hasattr(node, "body") and inner is not node else node
            return range(getattr(part, "lineno", 0), (getattr(part, "end_lineno", 0) or 0) + 1)
        inner = node
    return range(0)


def _put(parent: ast.AST, field: str, at: int | None, node: ast.AST) -> None:
    if at is None:
        setattr(parent, field, node)
    else:
        getattr(parent, field)[at] = node


def _shown(place: _Place) -> ast.AST:
    """Return the node to print: a lone number or name says nothing, so the expression or statement it is in."""
    node = place.node
    for parent, _, _ in reversed(place.above):
        small = isinstance(node, ast.Constant | ast.Name | ast.UnaryOp | ast.keyword | ast.Tuple | ast.Slice)
        block = isinstance(parent, ast.mod) or (isinstance(parent, ast.stmt) and hasattr(parent, "body"))
        if not small or block or len(_told(parent)) > 150:
            break
        node = parent
    return node


def _told(node: ast.AST) -> str:
    return " ".join(ast.unparse(node).split())
