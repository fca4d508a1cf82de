"""`pencilamp` by itself: what to do first, help, and completion in a shell."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cli.main import first_steps, main
from tests.cli.commands.test_plan import run

ROOT = Path(__file__).parents[2]


def test_alone_it_says_what_to_do_first():
    _, text, _ = run(ok=0)
    assert text == first_steps(100) + "\n"
    for command in ("square", "plan"):
        assert f"pencilamp {command}" in text and command in main.list_commands(None)
    assert max(map(len, text.splitlines())) <= 80


def test_help_tells_of_completion():
    _, text, _ = run("--help", ok=0)
    assert "_PENCILAMP_COMPLETE=bash_source" in text


def test_a_shell_is_told_what_may_follow():
    # click's own protocol for bash: the words so far, and which of them is being typed.
    asked = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "_PENCILAMP_COMPLETE": "bash_complete",
        "COMP_WORDS": "pencilamp plan --find",
        "COMP_CWORD": "2",
    }
    started = "import sys; sys.argv = ['pencilamp']; from cli.main import run; run()"
    told = subprocess.run(
        [sys.executable, "-c", started], env=asked, capture_output=True, text=True, check=False
    )
    assert told.stdout.split() == ["plain,--find-battery-place"]


def started(*arguments, where):
    """The command in a process of its own: what is typed wrongly is told by its entry point."""
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    words = [sys.executable, "-c", "import sys; sys.argv[0] = 'pencilamp'; from cli.main import run; run()"]
    done = subprocess.run(
        [*words, *arguments], env=env, cwd=where, capture_output=True, text=True, check=False
    )
    return done.returncode, done.stdout, done.stderr


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (["my card.jpg"], "to plan what is on it, say `pencilamp plan 'my card.jpg'`."),
        (["harbour-plan"], "say `pencilamp plan harbour-plan`."),
        (["help"], "Help is asked for with `pencilamp --help`."),
        (["plam", "x.jpg"], "There is no command 'plam'. Did you mean 'plan'?"),
        (["zebra"], "There is no command 'zebra'.\n"),
        (["print"], "There is no command 'print'.\n"),  # shares too few letters with any to be a slip
        (["archive", "takeout"], "There is no command 'takeout'. Did you mean 'take-out'?"),
        (["archive", "lost"], "Did you mean 'list'?"),
        (["archive", "help"], "`pencilamp archive --help`"),
        (["sheet", "harbour-plan", "--copies", "many"], "'many' is no whole number."),
        (["plan", "x.jpg", "--press", "long"], "'long' is no number."),
        (["plan", "x.jpg", "--press", "0"], "0 is not in the range 0.1 to 86400.\n"),
    ],
)
def test_what_is_typed_wrongly_is_answered_with_what_is_likely_meant(tmp_path, typed, words):
    (tmp_path / "harbour-plan").mkdir()
    code, text, trouble = started(*typed, where=tmp_path)
    assert (code, text) == (2, "")
    assert words in trouble, trouble


def test_a_file_that_looks_like_an_option_is_answered_with_how_to_name_it(tmp_path):
    (tmp_path / "-my card.jpg").touch()
    code, _, trouble = started("plan", "-my card.jpg", where=tmp_path)
    assert code == 2 and "is named like this: './-my card.jpg'" in trouble
    assert "named like this" not in started("plan", "-n", where=tmp_path)[2]


def test_a_command_may_begin_with_a_capital(tmp_path):
    code, text, _ = started("Square", where=tmp_path)
    assert code == 0 and (tmp_path / "reference-squares.pdf").exists(), text


def test_archive_alone_gives_its_help_and_nothing_about_an_error(tmp_path):
    _, _, trouble = started("archive", where=tmp_path)
    assert trouble.count("Usage:") == 1 and "Error" not in trouble
    assert "take-out" in trouble
