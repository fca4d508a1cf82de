"""`pencilamp archive`: the group, and where its commands lie."""

from __future__ import annotations

import click

from cli.lazy_group import LazyGroup

_HERE = "cli.archive"
_COMMANDS = {
    "keep": f"{_HERE}.keep_commands:keep",
    "list": f"{_HERE}.look_up_commands:list_designs",
    "find": f"{_HERE}.look_up_commands:find",
    "show": f"{_HERE}.show_command:show",
    "relabel": f"{_HERE}.keep_commands:relabel",
    "redo": f"{_HERE}.redo_commands:redo",
    "compare": f"{_HERE}.redo_commands:compare",
    "take-out": f"{_HERE}.zip_and_bin_commands:take_out",
    "bring-in": f"{_HERE}.zip_and_bin_commands:bring_in",
    "remove": f"{_HERE}.zip_and_bin_commands:remove",
    "put-back": f"{_HERE}.zip_and_bin_commands:put_back",
    "empty-bin": f"{_HERE}.zip_and_bin_commands:empty_bin",
    "check": f"{_HERE}.check_commands:check",
    "mend": f"{_HERE}.check_commands:mend",
}


@click.group(cls=LazyGroup, commands_in=_COMMANDS, short_help="Keep designs, find and compare them.")
def archive() -> None:
    """Keep designs, find them again months later, compare and rebuild them.

    A design is named by its number or by its title.
    """
