"""`pencilamp` by itself: what to do first, help, and completion in a shell."""

import os
import subprocess
import sys
from pathlib import Path

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
