"""`pencilamp archive ...`: keep designs, look them up, and the group that the other commands belong to."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import click

from circuit.errors import UsageError
from circuit.settings import Units
from cli.archive import design_list
from cli.archive.archive_folder import archive_folder
from cli.archive.check_commands import check, mend
from cli.archive.contact_sheets import contact_sheets
from cli.archive.design_list import Wanted
from cli.archive.kept_design import Design, folded, tidy_note, tidy_tags, tidy_title
from cli.archive.new_design import Words, incoming, is_kept_already
from cli.archive.options import (
    DAY,
    FILE,
    LIGHTS,
    SHOWN_AT_ONCE,
    at_option,
    card_sides,
    each,
    list_options,
    out_options,
    say,
    terminal_width,
    units_option,
)
from cli.archive.printed import count, design_lines, one_line, slip_lines, table
from cli.archive.redo_commands import compare, redo
from cli.archive.store import Archive, kept_plan
from cli.archive.take_out import lay_out
from cli.archive.zip_and_bin_commands import bring_in, empty_bin, put_back, remove, say_taken, take_out
from cli.commands.progress import step
from cli.screen import print_lines

_ORDER = (
    *("keep", "list", "find", "show", "relabel", "redo", "compare", "take-out", "bring-in"),
    *("remove", "put-back", "empty-bin", "check", "mend"),
)


class _InOrder(click.Group):
    """Lists the commands as a person comes to need them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_ORDER)


@click.group(cls=_InOrder, short_help="Keep designs, find and compare them.")
def archive() -> None:
    """Keep designs, find them again months later, compare and rebuild them.

    A design is named by its number or by its title.
    """


@archive.command(short_help="Keep photos' or plans' designs.")
@click.argument("sources", nargs=-1, required=True, type=FILE)
@click.option(
    "--title", help="What to call it; several get their file's name behind it.  [default: the file's name]"
)
@click.option("--tag", "tags", multiple=True, metavar="TAG", help="A word to find it by. May be given again.")
@click.option("--note", default="", help="Anything worth knowing.")
@click.option("--photo", type=FILE, help="The photo, if it is not beside the plan.")
@click.option("--twice", is_flag=True, help="Keep it even if the same plan is kept already.")
@at_option
@click.pass_context
def keep(
    ctx: click.Context,
    sources: tuple[Path, ...],
    title: str | None,
    tags: tuple[str, ...],
    note: str,
    photo: Path | None,
    twice: bool,
    at: Path | None,
) -> None:
    """Keep designs: each of SOURCES is a photo, or the folder of a plan already made.

    A photo is planned with the usual settings; for others use `pencilamp plan PHOTO --keep TITLE`.

    \b
    Example:
      pencilamp archive keep harbour.jpg --title "Harbour at night" --tag class
    """
    several = len(sources) > 1
    words = Words(
        None if title is None else tidy_title(title), tidy_tags(tags), tidy_note(note), title_and_name=several
    )
    if several and photo is not None:
        raise UsageError("--photo goes with one plan; name the plans one by one.")

    def keep_one(source: Path) -> None:
        coming = incoming(source, photo, words, step)
        with Archive(archive_folder(at), writing=True) as opened:
            same = [other for other in opened.titled(coming.design.title) if other.removed is None]
            there = is_kept_already(coming.design, opened, same)
            if there is not None and not twice:
                print_lines(f"This plan is kept already as {one_line(there)}; nothing was added.")
                return
            say(f"Kept as {one_line(opened.keep(coming.design))}.")
        if same:
            say(f"The same title: number {', '.join(str(other.number) for other in same[:SHOWN_AT_ONCE])}.")
        for remark in coming.remarks:
            say(remark)

    ctx.exit(each(sources, lambda source: source.name or str(source), keep_one))


@archive.command("list", short_help="List what is kept.")
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
            for tag, many in opened.ask(design_list.tag_counts):
                print_lines(f"{many:6,}  {tag}")
            return
        _show(opened, Wanted(binned=binned), everything, picture, force, "in the bin" if binned else "kept")


@archive.command(short_help="Find designs by words and by what they are.")
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


@archive.command(short_help="Show all that is known of one.")
@click.argument("design")
@click.option("--out", type=FILE, metavar="FOLDER", help="Also lay its files there.")
@out_options
@units_option
@at_option
def show(
    design: str, out: Path | None, whole_photos: bool, force: bool, units: Units | None, at: Path | None
) -> None:
    """Show all that is known of one DESIGN.

    \b
    Example:
      pencilamp archive show "Harbour at night" --out harbour
    """
    with Archive(archive_folder(at), writing=False) as opened:
        one = opened.pick(design, binned=None)
        plan = kept_plan(opened, one)
        shown: Units = units or ("in" if plan.settings.get("units") == "in" else "mm")
        for line in design_lines(one, plan, shown, terminal_width()):
            print_lines(line)
        if out is not None:
            taken = lay_out(opened, one, out, whole_photos=whole_photos, replace_it=force)
            print_lines()
            say_taken(taken, f"Its files are in {out}.", whole_photos)


@archive.command(short_help="Change a title, tags or the note.")
@click.argument("design")
@click.option("--title", help="A new title.")
@click.option("--tag", "tags", multiple=True, metavar="TAG", help="A tag to add. May be given again.")
@click.option(
    "--untag", "untags", multiple=True, metavar="TAG", help="A tag to take off. May be given again."
)
@click.option("--note", help="A new note in place of the old one.")
@click.option("--add-note", help="A line to add to the note.")
@at_option
def relabel(
    design: str,
    title: str | None,
    tags: tuple[str, ...],
    untags: tuple[str, ...],
    note: str | None,
    add_note: str | None,
    at: Path | None,
) -> None:
    """Change a DESIGN's title, tags or note.

    \b
    Example:
      pencilamp archive relabel 12 --tag gift --add-note "Needs stronger tape."
    """
    if title is None and not tags and not untags and note is None and add_note is None:
        raise UsageError("Say what to change: --title, --tag, --untag, --note or --add-note.")
    off = {folded(tag) for tag in tidy_tags(untags)}

    def written(one: Design) -> Design:
        text = one.note if note is None else note
        return replace(
            one,
            title=one.title if title is None else tidy_title(title),
            tags=tidy_tags([*(tag for tag in one.tags if folded(tag) not in off), *tags]),
            note=tidy_note(text if add_note is None else f"{text}\n{add_note}"),
        )

    with Archive(archive_folder(at), writing=True) as opened:
        changed = opened.relabel(opened.pick(design, binned=None).number, written)
    print_lines(f"Now {one_line(changed)}.")
    print_lines(f"Tags: {', '.join(changed.tags) or 'none'}.")


def _show(
    opened: Archive, wanted: Wanted, everything: bool, picture: Path | None, force: bool, what: str
) -> None:
    """A table of what is wanted, and its contact sheets."""
    for line in slip_lines(opened.ask(design_list.damaged), terminal_width()):
        print_lines(line, err=True)
    total, limit = opened.count(wanted), None if everything else SHOWN_AT_ONCE
    if not total:
        kept = opened.count(Wanted())
        are = f"{count(kept, 'design')} {'is' if kept == 1 else 'are'} kept"
        print_lines(f"Nothing {what}; {are}." if kept else f"Nothing is kept yet in {opened.folder}.")
        return
    for line in table(opened.find(wanted, limit), terminal_width()):
        print_lines(line)
    if limit is not None and total > limit:
        print_lines(f"The newest {limit} of {total:,}; say --all for the others.")
    else:
        print_lines(f"{count(total, 'design')} {what}.")
    if picture is not None:
        for line in contact_sheets(opened, wanted, limit, picture, force, what):
            print_lines(line)


for _command in (redo, compare, take_out, bring_in, remove, put_back, empty_bin, check, mend):
    archive.add_command(_command)
