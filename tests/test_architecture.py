"""The parts lean on one another one way only: cli -> vision -> circuit's types; cli -> circuit."""

import ast
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
    "layout",
    "lengths",
    "orientation",
    "parts",
    "plan",
    "polyline",
    "rules",
    "settings",
    "switch",
    "telling",
    "whereabouts",
}


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


def test_the_check_finds_an_arrow_that_points_back(tmp_path):
    bad = tmp_path / "bad.py"
    bad.write_text("def f():\n    from cli.files import read_plan\n    return read_plan\n", encoding="utf-8")
    assert "cli.files" in set(imported_modules(bad))
