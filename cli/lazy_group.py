"""A group of commands, each loaded when it is asked for, so that it starts with what it needs and no more."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import Any

import click

from cli.help_pages import with_narrow_help


class LazyGroup(click.Group):
    """`commands_in` says by its name where each command lies, `module:name`, in the order in which people come to need
    them."""

    def __init__(self, *args: Any, commands_in: Mapping[str, str], **said: Any) -> None:
        super().__init__(*args, **said)
        self._commands_in = commands_in

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self._commands_in)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        target = self._commands_in.get(cmd_name)
        if target is None:
            return None
        module, name = target.split(":")
        return with_narrow_help(getattr(importlib.import_module(module), name))
