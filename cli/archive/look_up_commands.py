"""`pencilamp archive list` and `find`. They load no more than the list needs: people wait for nothing else."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from cli.archive import questions
from cli.archive.archive_folder import archive_folder
from cli.archive.options import (
    DAY,
    LIGHTS,
    SHOWN_AT_ONCE,
    at_option,
    card_sides,
    list_options,
    terminal_width,
)
from cli.archive.printed import count, slip_lines, table
from cli.archive.questions import Wanted
from cli.archive.store import Archive
from cli.screen import print_lines


@click.command("list", short_help="List what is kept.")
@click.option("--tags", "only_tags", is_flag=True, help="The tags, and how many designs bear each.")
@list_options
@at_option
def list_designs(
    only_tags: bool, everything: bool, binned: bool, picture: Path | None, force: bool, at: Path | None
) -> None:
    """List what is kept, the newest first.

    \b
    Example:
      pencilamp archive list --picture all-my-cards.png
    """
    with Archive(archive_folder(at), writing=False) as opened:
        if only_tags:
            for tag, many in opened.ask(questions.tag_counts):
                print_lines(f"{many:6,}  {tag}")
            return
        _show(opened, Wanted(binned=binned), everything, picture, force, "in the bin" if binned else "kept")


@click.command(short_help="Find designs by words and by what they are.")
@click.argument("words", nargs=-1)
@click.option(
    "--lights", type=LIGHTS, metavar="NUMBER", help="How many lights: 9, 5-9 or 9- for nine or more."
)
@click.option("--card", metavar="SIZE", help="The card's size, like 4.25x5.5in, or its name, like A6.")
@click.option("--cell", metavar="NAME", help="The coin cell, like CR2016.")
@click.option("--tag", "tags", multiple=True, metavar="TAG", help="A tag it must bear. May be given again.")
@click.option(
    "--with-problems/--without-problems",
    "troubled",
    default=None,
    help="Only those to mend, or only those with nothing to mend.",
)
@click.option("--since", type=DAY, metavar="DATE", help="Kept on that day, month or year, or later.")
@click.option("--until", type=DAY, metavar="DATE", help="Kept on that day, month or year, or before.")
@list_options
@at_option
def find(
    words: tuple[str, ...],
    lights: tuple[int, int] | None,
    card: str | None,
    cell: str | None,
    tags: tuple[str, ...],
    troubled: bool | None,
    since: tuple[datetime, datetime] | None,
    until: tuple[datetime, datetime] | None,
    binned: bool,
    everything: bool,
    picture: Path | None,
    force: bool,
    at: Path | None,
) -> None:
    """Find designs by WORDS of their title, tags or note, and by what they are.

    The beginning of a word is enough; all that is said must hold.

    \b
    Example:
      pencilamp archive find harb --lights 9 --cell CR2016
    """
    wanted = Wanted(
        words=words,
        tags=tags,
        lights=lights,
        card_mm=card_sides(card),
        cell=cell,
        troubled=troubled,
        since=None if since is None else since[0],
        until=None if until is None else until[1],
        binned=binned,
    )
    with Archive(archive_folder(at), writing=False) as opened:
        _show(opened, wanted, everything, picture, force, "found")


def _show(
    opened: Archive, wanted: Wanted, everything: bool, picture: Path | None, force: bool, what: str
) -> None:
    """A table of what is wanted, and its contact sheets."""
    for line in slip_lines(opened.ask(questions.damaged), terminal_width()):
        print_lines(line, err=True)
    limit = None if everything else SHOWN_AT_ONCE
    found, total = opened.newest(wanted, limit)
    if not total:
        kept = opened.count(Wanted())
        are = f"{count(kept, 'design')} {'is' if kept == 1 else 'are'} kept"
        print_lines(f"Nothing {what}; {are}." if kept else f"Nothing is kept yet in {opened.folder}.")
        return
    for line in table(found, terminal_width()):
        print_lines(line)
    if limit is not None and total > limit:
        print_lines(f"The newest {limit} of {total:,}; say --all for the others.")
    else:
        print_lines(f"{count(total, 'design')} {what}.")
    if picture is not None:
        from cli.archive.contact_sheets import contact_sheets

        for line in contact_sheets(opened, wanted, limit, picture, force, what):
            print_lines(line)
