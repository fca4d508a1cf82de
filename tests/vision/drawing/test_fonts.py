"""A typeface that is missing or not the one that was packed: one sentence, and nothing drawn with it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.commands.test_plan import LAYOUT
from vision.drawing import fonts
from vision.drawing.fonts import TypefaceError, font_path

ROOT = Path(__file__).parents[3]
OWN = {weight: font_path(weight).read_bytes() for weight in ("regular", "bold")}


def flipped(data, at):
    return data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]


# What disks, downloads and people make of a file; None: there is none.
BROKEN = {
    "missing": None,
    "a folder in its place": "folder",
    "empty": b"",
    "cut short": OWN["regular"][: len(OWN["regular"]) // 2],
    "its first byte alone": OWN["regular"][:1],
    "a bit flipped in its head": flipped(OWN["regular"], 5),
    "a bit flipped in an outline": flipped(OWN["regular"], len(OWN["regular"]) // 2),
    "bytes behind its end": OWN["regular"] + b"\0",
    "the other weight's file": OWN["bold"],
    "a page of text": b"<html>404: not found</html>",
}


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder that the typefaces are looked for in; whoever draws in this process has its own at hand by now."""
    monkeypatch.setattr(fonts, "__file__", str(tmp_path / "__init__.py"))
    font_path.cache_clear()
    yield tmp_path
    font_path.cache_clear()


def lay(folder, content):
    path = folder / "OpenSans-Regular.ttf"
    if content == "folder":
        path.mkdir()
    elif content is not None:
        path.write_bytes(content)
    return path


@pytest.mark.parametrize("kind", BROKEN)
def test_a_broken_typeface_is_told_in_one_sentence(folder, kind):
    path = lay(folder, BROKEN[kind])
    for _ in range(2):  # asked again it is no better
        with pytest.raises(TypefaceError) as caught:
            font_path("regular")
        assert str(caught.value) == (
            f"{path}: this typeface of Pencilamp's is missing or damaged; install Pencilamp again."
        )
        assert caught.value.exit_code == 4


def test_the_one_that_was_packed_is_taken(folder):
    path = lay(folder, OWN["regular"])
    assert font_path("regular") == path


@pytest.mark.parametrize("kind", ["missing", "cut short"])
@pytest.mark.parametrize("command", [["plan", "card.json"], ["square"]])
def test_a_command_with_a_broken_typeface_ends_with_4_and_leaves_nothing(tmp_path, kind, command):
    kept, work = tmp_path / "fonts", tmp_path / "work"
    kept.mkdir()
    work.mkdir()
    (kept / "OpenSans-Bold.ttf").write_bytes(OWN["bold"])
    lay(kept, BROKEN[kind])
    (work / "card.json").write_text(json.dumps(LAYOUT), encoding="utf-8")
    started = (
        "import sys, vision.drawing.fonts as fonts; sys.argv[0] = 'pencilamp'; "
        f"fonts.__file__ = {str(kept / '__init__.py')!r}; from cli.main import run; run()"
    )
    done = subprocess.run(
        [sys.executable, "-c", started, *command],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        cwd=work,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 4, done.stderr
    assert done.stdout == ""
    sentence = done.stderr.splitlines()[-1]
    assert "OpenSans-Regular.ttf" in sentence and sentence.endswith("install Pencilamp again.")
    assert "Traceback" not in done.stderr
    assert [path.name for path in work.iterdir()] == ["card.json"]
