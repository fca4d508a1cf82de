"""`pencilamp archive check` and `mend`."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click

from circuit.errors import UsageError
from cli.archive import questions
from cli.archive.archive_folder import archive_folder
from cli.archive.health import look_over
from cli.archive.mend import copy_out
from cli.archive.mend import mend as set_right
from cli.archive.options import FILE, at_option, say, terminal_width
from cli.archive.printed import count, health_lines
from cli.archive.store import Archive
from cli.screen import print_lines

_MANY_FILES = 500  # chosen: below that it is done in a second or two
_BAD = 4


@click.command(short_help="Name what is missing or damaged.")
@at_option
@click.pass_context
def check(ctx: click.Context, at: Path | None) -> None:
    """Look every kept file over and name what is missing or damaged.

    \b
    Example:
      pencilamp archive check
    """
    with Archive(archive_folder(at), writing=False) as opened:
        many = len(opened.ask(questions.contents))
        if many < _MANY_FILES:
            health = look_over(opened)
        else:
            with click.progressbar(range(many), label="Looking over", file=sys.stderr) as bar:
                health = look_over(opened, partial(bar.update, 1))
    for line in health_lines(health, terminal_width()):
        print_lines(line)
    ctx.exit(_BAD if health.bad or health.bad_slips else 0)


@click.command(short_help="Set a damaged archive right.")
@click.option(
    "--look-in",
    type=click.Path(path_type=Path, exists=True, file_okay=False),
    metavar="FOLDER",
    help="Look there for files that are missing or damaged, like in a spare copy.",
)
@click.option(
    "--to",
    "target",
    type=FILE,
    metavar="FOLDER",
    help="Mend nothing: copy every sound file there, a folder for each design.",
)
@at_option
@click.pass_context
def mend(ctx: click.Context, look_in: Path | None, target: Path | None, at: Path | None) -> None:
    """Set an archive right: tidy up after an interrupted job, write damaged slips again.

    \b
    Example:
      pencilamp archive mend
    """
    if look_in is not None and target is not None:
        raise UsageError("Say --look-in or --to, not both.")
    folder = archive_folder(at)
    if target is not None:
        designs, files = copy_out(folder, target)
        say(
            f"{count(files, 'file')} of {count(designs, 'design')} copied to {target}; the archive was not touched."
        )
        say("The photos are as they were taken, with all that the camera wrote in them.")
        return
    mended = set_right(folder, look_in)
    said = [
        (mended.slips, f"{count(mended.slips, 'slip')} of designs written again."),
        *((1, f"A design is lost, though its files are not: {lost}.") for lost in mended.lost_slips),
        (mended.found, f"{count(mended.found, 'file')} found again and put back."),
        (mended.parts, "Tidied up after an interrupted job."),
    ]
    if mended.aside:
        things, where = count(len(mended.aside), "file"), mended.aside[0].parent
        said.append((1, f"{things} that belonged nowhere, or were replaced, now lie in {where}."))
    if mended.still_bad:
        still = (
            f"{count(mended.still_bad, 'file')} {'is' if mended.still_bad == 1 else 'are'} missing or damaged"
        )
        said.append((1, f"{still} still; `pencilamp archive check` names them."))
    for sentence in [sentence for many, sentence in said if many] or [
        f"Nothing to mend; {count(mended.designs, 'design')}."
    ]:
        say(sentence, "", "  ")
    ctx.exit(_BAD if mended.still_bad else 0)
