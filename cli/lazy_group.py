"""A group of commands, each loaded when it is asked for, so that it starts with what it needs and no more."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import Any

import click

from circuit.near_names import name_meant
from cli.help_pages import with_narrow_help


class LazyGroup(click.Group):
    """`commands_in` says by its name where each command lies, `module:name`, in the order in which people come to need
    them."""

    def __init__(self, *args: Any, commands_in: Mapping[str, str], **said: Any) -> None:
        super().__init__(*args, **said)
        self._commands_in = commands_in

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The library's. Raises click.UsageError with what is likely meant for a word that is no command."""
        try:
            return super().resolve_command(ctx, args)
        except click.exceptions.NoSuchCommand as error:
            raise click.UsageError(self.unknown(ctx, error.command_name), ctx) from None

    def unknown(self, ctx: click.Context, name: str) -> str:
        """What to say of a word that is no command: which is likely meant."""
        if name.lower() == "help":
            return f"Help is asked for with `{ctx.command_path} --help`."
        meant = name_meant(name, self._commands_in)
        return f"There is no command {name!r}." + (f" Did you mean {meant!r}?" if meant else "")

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self._commands_in)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        target = self._commands_in.get(cmd_name.lower())  # a phone's keyboard begins with a capital
        if target is None:
            return None
        module, name = target.split(":")
        return with_narrow_help(getattr(importlib.import_module(module), name))
