"""`pencilamp archive keep` and `relabel`: designs, and what is written on them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from circuit.errors import UsageError
from cli.archive.archive_folder import archive_folder
from cli.archive.kept_design import Design, folded, tidy_note, tidy_tags, tidy_title
from cli.archive.options import FILE, SHOWN_AT_ONCE, at_option, each, say
from cli.archive.printed import one_line
from cli.archive.store import Archive
from cli.progress import step
from cli.screen import print_lines


@click.command(short_help="Keep photos' or plans' designs.")
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
    from cli.archive.new_design import Words, incoming, is_kept_already

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


@click.command(short_help="Change a title, tags or the note.")
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
