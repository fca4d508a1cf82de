"""Tuned numbers have names: of those that stand bare in the code, only a handful may.

Counted are numbers in `circuit/`, `vision/` and `cli/` that are neither bound to a capital name nor the
default of a dataclass's field, nor so plain that a name would say no more: `PLAIN`, rounding's epsilons, the factors
from one unit to another (`FACTORS`), and in the phone's room the statuses of HTTP, known best by number.
"""

import ast
from collections.abc import Iterator
from http import HTTPStatus
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ROOMS = {
    "circuit": ("circuit/route", "circuit/moves"),
    "circuit/moves": (),
    "circuit/route": (),
    "vision/drawing": (),
    "vision/reading": (),
    "cli": ("cli/archive", "cli/pages", "cli/phone"),
    "cli/archive": (),
    "cli/pages": (),
    "cli/phone": (),
}  # and which rooms in it are counted by themselves
PLAIN = {0, 0.5, 1, 2, 3, 4, 8, 10, 16, 90, 100, 180, 255, 360}
EPSILON = 1e-5
FACTORS = {1_000_000, 1_000_000_000, 86_400}  # bytes to a megabyte and gigabyte, seconds to a day
STATUSES = {status.value for status in HTTPStatus}
MOST_BARE = 9  # of one room: a bit of arithmetic, what a file's format says


def bare_numbers(code: str) -> Iterator[tuple[int, float]]:
    """Line and value of each."""
    tree = ast.parse(code)
    named = set()
    for node in ast.walk(tree):
        body = node.body if isinstance(node, ast.Module | ast.ClassDef) else []
        for line in body:
            if isinstance(line, ast.AnnAssign) or (isinstance(line, ast.Assign) and _is_constant(line)):
                named |= {id(part) for part in ast.walk(line)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and type(node.value) in (int, float) and id(node) not in named:
            size = abs(node.value)
            if size not in PLAIN and not 0 < size <= EPSILON:
                yield node.lineno, node.value


def _is_constant(line: ast.Assign) -> bool:
    names = [part.id for target in line.targets for part in ast.walk(target) if isinstance(part, ast.Name)]
    return all(name == name.upper() for name in names)


@pytest.mark.parametrize("room", sorted(ROOMS))
def test_hardly_a_number_stands_bare(room):
    found = []
    for path in sorted((ROOT / room).rglob("*.py")):
        where = path.relative_to(ROOT).as_posix()
        if not where.startswith(ROOMS[room] or ("-",)):
            found += [
                f"{where}:{line} {value}"
                for line, value in bare_numbers(path.read_text("utf-8"))
                if value not in FACTORS and not (room == "cli/phone" and value in STATUSES)
            ]
    assert len(found) <= MOST_BARE, "\n".join(found)


def test_the_count_finds_one_and_passes_over_named_ones():
    code = (
        "A_MM, _B = 7.5, (2.25, 6)\nclass C:\n    d: float = 5.5\ndef f(x):\n    return x * 2 + 7.5 + 1e-9\n"
    )
    assert list(bare_numbers(code)) == [(5, 7.5)]
