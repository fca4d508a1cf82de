"""The parts lean on one another one way only: cli -> vision -> circuit's types; cli -> circuit. What is public says
what a caller must know."""

import ast
import re
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MAY_IMPORT = {
    "circuit": {"circuit"},
    "vision": {"vision", "circuit"},
    "cli": {"cli", "vision", "circuit"},
}
# Of circuit, the reading knows the values that it fills, the drawing the values that it shows and their words.
CIRCUIT_FOR_READING = {"asked", "card_sizes", "errors", "layout", "lengths"}
CIRCUIT_FOR_DRAWING = {
    "errors",
    "flap",
    "glow",
    "joint",
    "layout",
    "lengths",
    "orientation",
    "part_kinds",
    "plan",
    "polyline",
    "rules",
    "settings",
    "switch",
    "telling",
    "whereabouts",
}


# A way in, or a picture made of all the others: nobody else leans on it.
LEAVES = {"cli.commands": (), "vision.drawing.overlay": ("cli/",)}


def imported_modules(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written out in full"
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def python_files(part):
    return sorted((ROOT / part).rglob("*.py"))


@pytest.mark.parametrize("part", sorted(MAY_IMPORT))
def test_no_arrow_points_back(part):
    files = python_files(part)
    assert files
    for path in files:
        for module in imported_modules(path):
            top = module.split(".")[0]
            if top in MAY_IMPORT:
                assert top in MAY_IMPORT[part], f"{path.relative_to(ROOT)} imports {module}"


@pytest.mark.parametrize("room", sorted(LEAVES))
def test_nothing_else_leans_on_a_leaf(room):
    inside = f"{room.replace('.', '/')}/"
    for path in (path for part in MAY_IMPORT for path in python_files(part)):
        name = str(path.relative_to(ROOT))
        if not name.startswith((inside, *LEAVES[room])):
            assert not any(f"{module}.".startswith(f"{room}.") for module in imported_modules(path)), name


@pytest.mark.parametrize(
    ("room", "known"), [("reading", CIRCUIT_FOR_READING), ("drawing", CIRCUIT_FOR_DRAWING)]
)
def test_vision_knows_only_values_of_circuit(room, known):
    for path in python_files(f"vision/{room}"):
        for module in imported_modules(path):
            steps = module.split(".")
            if steps[0] == "circuit":
                name = next((step for step in steps[1:] if step in known), None)
                assert len(steps) == 1 or name, f"{path.relative_to(ROOT)} imports {module}"


@pytest.mark.parametrize(("room", "other"), [("reading", "drawing"), ("drawing", "reading")])
def test_the_two_rooms_of_vision_do_not_know_each_other(room, other):
    files = python_files(f"vision/{room}")
    assert files
    for path in files:
        for module in imported_modules(path):
            assert not module.startswith(f"vision.{other}"), f"{path.relative_to(ROOT)} imports {module}"


@pytest.mark.parametrize("library", ["PIL", "cv2", "skimage", "click", "reportlab", "sqlite3"])
def test_circuit_knows_no_pictures_pages_or_command_line(library):
    for path in python_files("circuit"):
        assert library not in {module.split(".")[0] for module in imported_modules(path)}, path


def modules():
    """Every file of the program by the name that it is imported by."""
    files = [path for part in sorted(MAY_IMPORT) for path in python_files(part)]
    names = [".".join(path.relative_to(ROOT).with_suffix("").parts) for path in files]
    return {name.removesuffix(".__init__"): path for name, path in zip(names, files)}


def arrows(files):
    """Which files each file imports, inside functions and for the type checker alone too."""
    return {
        name: {
            module
            for module in imported_modules(path)
            if module in files and not name.startswith(f"{module}.")
        }
        - {name}
        for name, path in files.items()
    }


def circles(graph):
    """One circle of files where there is any, else none."""
    sorter = TopologicalSorter(graph)
    try:
        sorter.prepare()
    except CycleError as error:
        return error.args[1]
    return []


def test_no_files_import_one_another_in_a_circle():
    assert circles(arrows(modules())) == []


def rooms():
    """Each folder of modules, and which others it leans on; the files that lie beside the folders are left out."""
    room_of = {
        name: ".".join(path.relative_to(ROOT).parts[:2])
        for name, path in modules().items()
        if len(path.relative_to(ROOT).parts) > 2
    }
    graph = {room: set() for room in room_of.values()}
    for name, known in arrows(modules()).items():
        if name in room_of:
            graph[room_of[name]] |= {room_of[other] for other in known if other in room_of} - {room_of[name]}
    return graph


def test_no_rooms_lean_on_one_another_in_a_circle():
    assert circles(rooms()) == []


@pytest.mark.parametrize(
    ("room", "other"),
    [
        ("circuit.check", "circuit.route"),  # what measures a lane does not know how it was laid
        ("circuit.route", "circuit.check"),
        ("circuit.check", "circuit.moves"),
        ("circuit.check", "circuit.branches"),
        ("circuit.route", "circuit.branches"),
        ("circuit.branches", "circuit.route"),  # which is handed whatever lays a lane
        ("cli.pages", "cli.archive"),
        ("cli.pages", "cli.phone"),
        ("cli.archive", "cli.phone"),
    ],
)
def test_rooms_that_must_stay_apart_do(room, other):
    assert other not in rooms()[room]


def test_the_check_finds_a_circle():
    assert set(circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}})) == {"a", "b", "c"}


def public_classes(path):
    for line in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(line, ast.ClassDef) and not line.name.startswith("_"):
            yield line.name


def test_no_two_values_have_one_name():
    where = {}
    for path in modules().values():
        for name in public_classes(path):
            where.setdefault(name, []).append(path.relative_to(ROOT).as_posix())
    assert {name: paths for name, paths in where.items() if len(paths) > 1} == {}


@pytest.mark.parametrize("path", sorted(modules().values()), ids=str)
def test_nothing_is_imported_by_a_text_but_the_commands(path):
    """A name in a text is an arrow that no check sees. The groups name their commands so that each starts fast."""
    if path.relative_to(ROOT) == Path("cli/lazy_group.py"):
        return
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            assert called.split(".")[-1] not in ("import_module", "__import__", "exec", "eval"), called


def test_the_check_finds_an_arrow_that_points_back(tmp_path):
    bad = tmp_path / "bad.py"
    bad.write_text("def f():\n    from cli.files import read_plan\n    return read_plan\n", encoding="utf-8")
    assert "cli.files" in set(imported_modules(bad))


# What public functions must say: the shape of arrays, as `(N, 2)`, `(...,)`, or as any or the same shape, in their own
# docstring or their class's (names for arrays of one kind, such as `RgbImage`, tell theirs where they are made); and
# the errors that they raise, there or in their module's. Commands' docstrings are their help.
OF_ANY_SHAPE = re.compile(r"\b(Floats|Indices|NDArray|ndarray|ArrayLike)\b")
_SIZE = r"(?:\.\.\.|\w+(?: [-+*] \w+)?)"
SHAPE = re.compile(rf"\((?=[^)]*,)(?:{_SIZE}, )*{_SIZE},?\)|\b(any|same) shape")
Function = ast.FunctionDef | ast.AsyncFunctionDef


def functions(tree: ast.Module) -> Iterator[tuple[Function, str]]:
    """Each with its class's docstring."""
    for node in tree.body:
        if isinstance(node, Function):
            yield node, ""
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            of_class = ast.get_docstring(node) or ""
            yield from ((one, of_class) for one in node.body if isinstance(one, Function))


def raised_in(function: Function) -> set[str]:
    """The errors that a function raises itself, not those of functions within it."""
    found, left = set[str](), list(function.body)
    while left:
        node: ast.AST = left.pop()
        if isinstance(node, Function | ast.Lambda | ast.ClassDef):
            continue
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
            found.add(ast.unparse(node.exc.func).rpartition(".")[2])
        left += ast.iter_child_nodes(node)
    return {name for name in found if name[:1].isupper()}


def missing_in(source: str) -> list[str]:
    """What a module's docstrings leave out, a line each."""
    missing, tree = [], ast.parse(source)
    of_module = ast.get_docstring(tree) or ""
    for function, of_class in functions(tree):
        is_command = any("command" in ast.unparse(one) for one in function.decorator_list)
        if function.name.startswith("_") or is_command:
            continue
        own = (ast.get_docstring(function) or "") + of_class
        takes = [*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs]
        kinds = [ast.unparse(one.annotation) for one in takes if one.annotation]
        kinds += [ast.unparse(function.returns)] if function.returns else []
        if any(map(OF_ANY_SHAPE.search, kinds)) and not SHAPE.search(own):
            missing.append(f"{function.lineno} {function.name}: no shape")
        errors = [name for name in sorted(raised_in(function)) if name not in own + of_module]
        missing += [f"{function.lineno} {function.name}: raises {name}" for name in errors]
    return missing


def test_shapes_and_errors_are_told():
    missing = [
        f"{path.relative_to(ROOT)}:{line}"
        for room in MAY_IMPORT
        for path in python_files(room)
        for line in missing_in(path.read_text(encoding="utf-8"))
    ]
    assert missing == []


def test_what_is_left_out_is_found():
    said = '"""Of (N, 2). Raises ValueError."""'
    told = f'"""All."""\ndef f(a: Floats) -> float:\n    {said}\n    raise ValueError("no")\n'
    assert missing_in(told) == []
    assert missing_in(told.replace("(N, 2)", "points")) == ["2 f: no shape"]
    assert missing_in(told.replace("ValueError.", "it.")) == ["2 f: raises ValueError"]
    assert missing_in(told.replace("def f", "def _f").replace("(N, 2)", "points")) == []
