"""The pages for people who change the program name files that are there."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PAGES = ("DEVELOPERS.md", "vision/reading/README.md", "sample_images/README.md")
_PATH = re.compile(r"`((?:[\w.-]+/)*[\w-]+\.(?:py|toml|md))`")
_MODULE = re.compile(r"python -m (tests(?:\.\w+)+)")


def missing(text, files):
    """Named files, whole or from some folder on, and modules to be run, that are not there."""
    for name in _PATH.findall(text):
        if not any(f"/{file}".endswith(f"/{name}") for file in files):
            yield name
    for module in _MODULE.findall(text):
        path = module.replace(".", "/")
        if not {f"{path}.py", f"{path}/__main__.py"} & files:
            yield module


def files_here():
    rooms = (ROOT / part for part in ("circuit", "vision", "cli", "tests", "sample_images"))
    there = [path for room in rooms for path in room.rglob("*") if path.suffix in (".py", ".toml", ".md")]
    return {path.relative_to(ROOT).as_posix() for path in (*there, *ROOT.glob("*.*"))}


@pytest.mark.parametrize("page", PAGES)
def test_what_a_page_names_is_there(page):
    assert list(missing((ROOT / page).read_text(encoding="utf-8"), files_here())) == []


def test_the_check_finds_what_is_gone():
    told = "`circuit/gone.py`, `plan.py`; `python -m tests.benchmarks.gone 3`"
    assert list(missing(told, files_here())) == ["circuit/gone.py", "tests.benchmarks.gone"]
