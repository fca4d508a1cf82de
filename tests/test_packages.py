"""What is given out, a wheel and a source archive, holds all that the program needs and runs from it."""

import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PARTS = ("circuit", "vision", "cli")
LEFT_OUT = {"__pycache__"}


def needed_files():
    """All that lies in the three packages: code, weights, typefaces with their licence, parts, templates."""
    return {
        path.relative_to(ROOT).as_posix()
        for part in PARTS
        for path in (ROOT / part).rglob("*")
        if path.is_file() and not LEFT_OUT & set(path.parts)
    }


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """A wheel and a source archive, built from a copy so that nothing is left beside the code."""
    copy = tmp_path_factory.mktemp("copy")
    for name in (*PARTS, "pyproject.toml", "README.md", "LICENSE"):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, copy / name, ignore=shutil.ignore_patterns(*LEFT_OUT))
        else:
            shutil.copy(source, copy / name)
    # Without an environment of its own, which would be downloaded anew for each run.
    subprocess.run(
        [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(copy / "out"), str(copy)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    (wheel,) = (copy / "out").glob("*.whl")
    (archive,) = (copy / "out").glob("*.tar.gz")
    return wheel, archive


def test_the_wheel_holds_every_file_of_the_program_and_nothing_else(built):
    with zipfile.ZipFile(built[0]) as wheel:
        names = {name for name in wheel.namelist() if ".dist-info/" not in name}
    assert names == needed_files()


def test_the_source_archive_holds_every_file_of_the_program(built):
    with tarfile.open(built[1]) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    assert needed_files() <= names
    assert {"README.md", "LICENSE", "pyproject.toml"} <= names


def test_the_program_runs_from_the_wheel_alone(built, tmp_path):
    with zipfile.ZipFile(built[0]) as wheel:
        wheel.extractall(tmp_path / "installed")
    shutil.copy(ROOT / "sample_images" / "fireflies.jpg", tmp_path / "fireflies.jpg")
    alone = {**os.environ, "PYTHONPATH": str(tmp_path / "installed")}
    ran = subprocess.run(
        [sys.executable, "-m", "cli.main", "plan", "fireflies.jpg"],
        cwd=tmp_path, env=alone, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode in (0, 1), ran.stderr
    assert {"overlay.png", "sheet.pdf", "build.pdf", "plan.json"} <= {
        path.name for path in (tmp_path / "fireflies-plan").iterdir()
    }
