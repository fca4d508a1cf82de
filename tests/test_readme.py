"""README's commands exist as they are written, and every option it names is one of that command's."""

import re
import shlex
from pathlib import Path

import click
import pytest

from cli.main import main

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
_CODE = re.compile(r"```.*?\n(.*?)```|`([^`\n]+)`", re.DOTALL)


def code_pieces():
    return [block or inline for block, inline in _CODE.findall(TEXT)]


def commands_named():
    """Each `pencilamp ...` that stands in code, up to what ends a command in a shell."""
    for piece in code_pieces():
        for found in re.findall(r"\bpencilamp\s[^\n;&|]*", piece):
            yield found.strip()


def command_of(words):
    """The command that the words lead to, and the words behind it."""
    command: click.Command = main
    while isinstance(command, click.Group) and words and not words[0].startswith("-"):
        context = click.Context(command)
        found = command.get_command(context, words[0])
        assert found is not None, f"there is no command {' '.join(words)}"
        command, words = found, words[1:]
    return command, words


def options_of(command):
    return {name for option in command.params for name in (*option.opts, *option.secondary_opts)} | {"--help"}


@pytest.mark.parametrize("line", sorted(set(commands_named())))
def test_a_command_in_the_readme_exists_with_its_options(line):
    command, words = command_of(shlex.split(line)[1:])
    for word in words:
        if word.startswith("--"):
            assert word in options_of(command), f"{line}: no option {word}"


def all_commands(command: click.Command = main):
    yield command
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            yield from all_commands(command.get_command(context, name))


def test_options_named_by_themselves_are_some_commands():
    known = {option for command in all_commands() for option in options_of(command)}
    for piece in code_pieces():
        if piece.startswith("--"):
            assert piece.split()[0] in known, piece


def test_each_block_to_paste_is_one_line():
    blocks = re.findall(r"```(?:sh|powershell)\n(.*?)```", TEXT, re.DOTALL)
    assert len(blocks) >= 3
    assert all(block.count("\n") == 1 for block in blocks)
