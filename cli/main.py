"""The `pencilamp` command: finds the subcommand, loads only what it needs, turns errors into one sentence.

Exit codes: 0 done, 1 something must be fixed, 2 wrong use, 3 unreadable photo, 4 file trouble.
"""

from __future__ import annotations

import os
import shlex
import signal
import sys
from pathlib import Path
from typing import NoReturn

import click

from circuit.errors import PencilampError
from cli.help_pages import plain_words, with_narrow_help
from cli.lazy_group import LazyGroup
from cli.screen import columns, in_lines, print_lines
from cli.streams import INTERRUPTED, STOPPED, make_streams_safe
from cli.unexpected import UNEXPECTED_EXIT_CODE, unexpected_error_sentence

_COMMANDS = {
    "plan": "cli.commands.plan:plan",
    "square": "cli.commands.square:square",
    "sheet": "cli.commands.sheet:sheet",
    "dark": "cli.commands.dark:dark_command",
    "parts": "cli.commands.parts:parts",
    "archive": "cli.archive.commands:archive",
    "phone": "cli.phone.command:phone",
}


class _AllCommands(LazyGroup):
    """The command itself, which Ctrl-C ends in one line, and which knows a photo named in a command's place."""

    def invoke(self, ctx: click.Context) -> object:
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:  # click would print an empty line first
            raise click.Abort from None

    def unknown(self, ctx: click.Context, name: str) -> str:
        if Path(name).suffix or os.path.exists(name):  # noqa: PTH110  (never raises)
            return f"{name!r} is no command; to plan what is on it, say `pencilamp plan {shlex.quote(name)}`."
        return super().unknown(ctx, name)


_FIRST_STEPS = (
    ("", "From a pencilled light-up card to tape:"),
    ("  1. ", "`pencilamp square` makes a page of reference squares to print and cut out."),
    (
        "  2. ",
        "Pencil a filled dot for each light on the back card, trace round the coin cell, lay a square beside them, and "
        "photograph it from above.",
    ),
    ("  3. ", "`pencilamp plan photo.jpg` gives traces, problems, and pages to build from."),
    ("", "`pencilamp --help` lists all commands, `pencilamp plan --help` what can be said."),
)
_WIDEST = 80


def first_steps(width: int) -> str:
    """What `pencilamp` alone says, for a terminal so wide."""
    parts = [
        "\n".join(in_lines(words, min(width, _WIDEST), lead, " " * len(lead))) for lead, words in _FIRST_STEPS
    ]
    first, *steps, last = parts
    return "\n".join([first, "", *steps, "", last])


_COMPLETION = """\b
Let the Tab key complete commands and options; for bash, add this line to ~/.bashrc:
  eval "$(_PENCILAMP_COMPLETE=bash_source pencilamp)"
For zsh, zsh_source in ~/.zshrc; for fish, fish_source in its config."""


@click.group(
    cls=_AllCommands,
    commands_in=_COMMANDS,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog=_COMPLETION,
)
@click.version_option(package_name="pencilamp")
@click.pass_context
def main(ctx: click.Context) -> None:
    """From a photo of a pencilled light-up card to traces, problems and a sheet to build from."""
    if ctx.invoked_subcommand is None:
        print_lines(first_steps(columns()))


def _tell_wrong_use(error: click.ClickException) -> None:
    """What the library says of a command that was typed wrongly, in lines that the terminal holds."""
    if isinstance(error, click.exceptions.NoArgsIsHelpError):  # the help itself is all that it says
        print_lines(error.format_message(), err=True)
        return
    context = error.ctx if isinstance(error, click.UsageError) else None
    if context is not None:
        print_lines(context.get_usage(), err=True)
        print_lines(f"Try `{context.command_path} --help` for help.\n", err=True)
    print_lines(f"Error: {plain_words(error.format_message())}{_dashed_file(error)}", err=True)


def _dashed_file(error: click.ClickException) -> str:
    """What to say to who named a file that looks like an option."""
    if not isinstance(error, click.NoSuchOption):
        return ""
    files = [word for word in sys.argv[1:] if word.startswith("-") and os.path.exists(word)]  # noqa: PTH110  (never raises)
    return f" The file {files[0]} is named like this: {shlex.quote(f'./{files[0]}')}" if files else ""


def run() -> NoReturn:
    """Entry point of the installed command."""
    # The fit's matrices are small: a second thread of the linear algebra only waits, and doubles the work.
    # Takes effect because numpy is not loaded before a command is.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    make_streams_safe()
    try:
        code = main(standalone_mode=False, prog_name="pencilamp")
    except PencilampError as error:
        print_lines(str(error), err=True)
        sys.exit(error.exit_code)
    except click.ClickException as error:
        _tell_wrong_use(error)
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # the end itself is not interrupted
        print_lines(STOPPED, err=True)
        sys.exit(INTERRUPTED)
    except BrokenPipeError:  # the reader of our output (head, a pager) has gone: no trouble of ours
        sys.stderr.close()
        sys.exit(0)
    except Exception as error:
        print_lines(unexpected_error_sentence(error, "at work"), err=True)
        sys.exit(UNEXPECTED_EXIT_CODE)
    sys.exit(code if isinstance(code, int) else 0)


with_narrow_help(main)

if __name__ == "__main__":
    run()
