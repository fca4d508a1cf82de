"""A tolerance says why it is as wide as it is: rounding, a published spread, a resolution, measured over so many.

Counted are the numbers given to `approx`, `isclose`, `allclose` and `assert_allclose` (`abs`, `rel`, `atol`, `rtol`)
and those that a distance (`abs`, `dist`, `hypot`, `norm`) is held under. A reason is a remark in the test, at the
assertion or before it, the test's docstring, or a remark where the number is named. What is rounding alone needs none.
"""

import ast
import io
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent
KEYWORDS = {"abs", "rel", "atol", "rtol"}
COMPARERS = {"approx", "isclose", "allclose", "assert_allclose"}
DISTANCES = {"abs", "dist", "hypot", "norm"}
OF_MANY = {"max", "mean", "median", "percentile", "float"}
ROUNDING = 1e-6  # chosen: no measure of ours has a digit below it


def tolerances(assertion: ast.stmt) -> Iterator[ast.expr]:
    """Those of one assertion."""
    for node in ast.walk(assertion):
        if isinstance(node, ast.Call) and _name(node) in COMPARERS:
            yield from (given.value for given in node.keywords if given.arg in KEYWORDS)
        elif isinstance(node, ast.Compare) and _is_held_under(node):
            yield node.comparators[0]


def unreasoned(code: str) -> Iterator[int]:
    """Lines of tolerances that say no reason."""
    tree = ast.parse(code)
    tokens = tokenize.generate_tokens(io.StringIO(code).readline)
    remarks = {token.start[0] for token in tokens if token.type == tokenize.COMMENT}
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef) and ast.get_docstring(function) is None:
            for assertion in ast.walk(function):
                if isinstance(assertion, ast.Assert | ast.Expr):
                    lines = range(function.lineno, (assertion.end_lineno or 0) + 1)
                    if not any(line in remarks for line in lines):
                        yield from (n.lineno for n in tolerances(assertion) if _needs_reason(n))


def _needs_reason(number: ast.expr) -> bool:
    """A named number is told where it is named; a measured bound is its own reason."""
    values = [part.value for part in ast.walk(number) if isinstance(part, ast.Constant)]
    return (
        bool(values) and isinstance(number, ast.Constant | ast.BinOp | ast.IfExp) and max(values) > ROUNDING
    )


def _name(call: ast.Call) -> str:
    return ast.unparse(call.func).split(".")[-1]


def _is_held_under(node: ast.Compare) -> bool:
    """A distance, or the largest of many."""
    if not isinstance(node.ops[0], ast.Lt | ast.LtE):
        return False
    left = node.left
    while isinstance(left, ast.Call) and _name(left) in OF_MANY:
        left = left.args[0] if left.args else left.func.value
        if isinstance(left, ast.Name):
            return False
    return isinstance(left, ast.Call) and _name(left) in DISTANCES


@pytest.mark.parametrize(
    "path", sorted(ROOT.rglob("*.py")), ids=lambda path: path.relative_to(ROOT).as_posix()
)
def test_each_tolerance_has_a_reason(path):
    assert list(unreasoned(path.read_text(encoding="utf-8"))) == []


def test_the_count_sees_what_has_none():
    bare = "def test_it():\n    assert a == approx(b, abs=0.3)\n    assert np.abs(a - b).max() < 0.2\n"
    assert list(unreasoned(bare)) == [2, 3]
    told = bare.replace("():\n", "():\n    # half a pixel\n").replace("0.2", "1e-9")
    assert list(unreasoned(told)) == []
