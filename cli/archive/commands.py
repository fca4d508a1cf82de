"""`pencilamp archive ...`: keep designs, look them up, and the group that the other commands belong to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.archive.archive_folder import archive_folder
from cli.archive.check_commands import check, mend
from cli.archive.options import DAY, LIGHTS, at_option, card_sides, terminal_width, units_option
from cli.archive.printed import count, design_lines, one_line, slip_lines, table, wrapped
from cli.archive.redo_commands import compare, redo
from cli.archive.zip_and_bin_commands import bring_in, empty_bin, put_back, remove, take_out

if TYPE_CHECKING:
    from circuit.settings import Units
    from cli.archive.design_list import Wanted
    from cli.archive.kept_design import Design
    from cli.archive.new_design import Words
    from cli.archive.store import Archive

_ORDER = (
    *("keep", "list", "find", "show", "relabel", "redo", "compare", "take-out", "bring-in"),
    *("remove", "put-back", "empty-bin", "check", "mend"),
)
SHOWN_AT_ONCE = 40  # chosen: what fits on two screens


class _InOrder(click.Group):
    """Lists the commands as a person comes to need them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_ORDER)


@click.group(cls=_InOrder)
def archive() -> None:
    """Keep designs, find them again months later, compare and rebuild them.

    A design is named by its number or by its title.
    """


@archive.command(short_help="Keep photos' or plans' designs.")
@click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--title", help="What to call it; several get their file's name behind it.  [default: the file's name]"
)
@click.option("--tag", "tags", multiple=True, metavar="TAG", help="A word to find it by. May be given again.")
@click.option("--note", default="", help="Anything worth knowing.")
@click.option("--photo", type=click.Path(path_type=Path), help="The photo, if it is not beside the plan.")
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
    from circuit.errors import PencilampError, UsageError
    from cli.archive.kept_design import tidy_note, tidy_tags, tidy_title
    from cli.archive.new_design import Words

    several = len(sources) > 1
    words = Words(
        None if title is None else tidy_title(title), tidy_tags(tags), tidy_note(note), title_and_name=several
    )
    if several and photo is not None:
        raise UsageError("--photo goes with one plan; name the plans one by one.")
    code = 0
    for source in sources:
        try:
            _keep_one(source, photo, words, twice, archive_folder(at))
        except PencilampError as error:  # one bad photo does not stop the others
            click.echo(str(error) if source.name in str(error) else f"{source}: {error}", err=True)
            code = max(code, error.exit_code)
    ctx.exit(code)


def _keep_one(source: Path, photo: Path | None, words: Words, twice: bool, folder: Path) -> None:
    from cli.archive.new_design import incoming, is_kept_already
    from cli.archive.store import Archive
    from cli.commands.progress import step

    coming = incoming(source, photo, words, step)
    with Archive(folder, writing=True) as opened:
        same = [other for other in opened.titled(coming.design.title) if other.removed is None]
        there = is_kept_already(coming.design, _with_plans(opened, same))
        if there is not None and not twice:
            click.echo(f"This plan is kept already as {one_line(there)}; nothing was added.")
            return
        kept = opened.keep(coming.design)
    lines = [f"Kept as {one_line(kept)}."]
    if same:
        lines.append(
            f"The same title: number {', '.join(str(other.number) for other in same[:SHOWN_AT_ONCE])}."
        )
    for text in (*lines, *coming.remarks):
        for line in wrapped(text, terminal_width(), "", ""):
            click.echo(line)


def _with_plans(opened: Archive, designs: Iterable[Design]) -> Iterator[tuple[Design, bytes]]:
    from circuit.errors import PencilampError

    for design in designs:
        plan = design.file("plan")
        with suppress(PencilampError):  # a damaged one is like no other
            if plan is not None:
                yield design, opened.read_file(design, plan)


@archive.command("list")
@click.option("--all", "everything", is_flag=True, help=f"More than the newest {SHOWN_AT_ONCE}.")
@click.option("--bin", "binned", is_flag=True, help="What lies in the bin.")
@click.option("--tags", "only_tags", is_flag=True, help="The tags, and how many designs bear each.")
@click.option(
    "--picture", type=click.Path(path_type=Path), metavar="FILE", help="Also draw them on a contact sheet."
)
@click.option("--force", is_flag=True, help="Write over a picture that is already there.")
@at_option
def list_designs(
    everything: bool, binned: bool, only_tags: bool, picture: Path | None, force: bool, at: Path | None
) -> None:
    """List what is kept, the newest first.

    \b
    Example:
      pencilamp archive list --picture all-my-cards.png
    """
    from cli.archive.design_list import Wanted
    from cli.archive.store import Archive

    with Archive(archive_folder(at), writing=False) as opened:
        if only_tags:
            for tag, many in opened.tags():
                click.echo(f"{many:6,}  {tag}")
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
@click.option("--with-problems", "troubled", flag_value="with", help="Something to fix or to look at again.")
@click.option(
    "--without-problems", "troubled", flag_value="without", help="Nothing to fix or to look at again."
)
@click.option("--since", type=DAY, metavar="DATE", help="Kept on that day, month or year, or later.")
@click.option("--until", type=DAY, metavar="DATE", help="Kept on that day, month or year, or before.")
@click.option("--bin", "binned", is_flag=True, help="Look in the bin instead.")
@click.option("--all", "everything", is_flag=True, help=f"More than the newest {SHOWN_AT_ONCE}.")
@click.option(
    "--picture", type=click.Path(path_type=Path), metavar="FILE", help="Also draw them on a contact sheet."
)
@click.option("--force", is_flag=True, help="Write over a picture that is already there.")
@at_option
def find(
    words: tuple[str, ...],
    lights: tuple[int, int] | None,
    card: str | None,
    cell: str | None,
    tags: tuple[str, ...],
    troubled: str | None,
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
    from cli.archive.design_list import Wanted
    from cli.archive.store import Archive

    wanted = Wanted(
        words=words,
        tags=tags,
        lights=lights,
        card_mm=card_sides(card),
        cell=cell,
        troubled=None if troubled is None else troubled == "with",
        since=None if since is None else since[0],
        until=None if until is None else until[1],
        binned=binned,
    )
    with Archive(archive_folder(at), writing=False) as opened:
        _show(opened, wanted, everything, picture, force, "found")


@archive.command()
@click.argument("design")
@click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER", help="Also lay its files there.")
@click.option("--whole-photos", is_flag=True, help="With --out: leave in the photo what the camera wrote.")
@click.option("--force", is_flag=True, help="Write over files that are already there.")
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
    from cli.archive.redo import kept_plan
    from cli.archive.store import Archive
    from cli.archive.take_out import lay_out
    from cli.archive.zip_and_bin_commands import say_taken

    with Archive(archive_folder(at), writing=False) as opened:
        one = opened.pick(design, binned=None)
        plan = kept_plan(opened, one)
        shown: Units = units or ("in" if plan.settings.get("units") == "in" else "mm")
        for line in design_lines(one, plan, shown, terminal_width()):
            click.echo(line)
        if out is not None:
            taken = lay_out(opened, one, out, whole_photos=whole_photos, replace_it=force)
            click.echo()
            say_taken(taken, f"Its files are in {out}.", whole_photos)


@archive.command()
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
      pencilamp archive relabel 12 --tag gift --add-note "Needs the stronger tape."
    """
    from circuit.errors import UsageError
    from cli.archive.kept_design import folded, tidy_note, tidy_tags, tidy_title
    from cli.archive.store import Archive

    if title is None and not tags and not untags and note is None and add_note is None:
        raise UsageError("Say what to change: --title, --tag, --untag, --note or --add-note.")
    with Archive(archive_folder(at), writing=True) as opened:
        off = {folded(tag) for tag in tidy_tags(untags)}

        def written(one: Design) -> Design:
            text = one.note if note is None else note
            return replace(
                one,
                title=one.title if title is None else tidy_title(title),
                tags=tidy_tags([*(tag for tag in one.tags if folded(tag) not in off), *tags]),
                note=tidy_note(text if add_note is None else f"{text}\n{add_note}"),
            )

        changed = opened.relabel(opened.pick(design, binned=None).number, written)
    click.echo(f"Now {one_line(changed)}.")
    click.echo(f"Tags: {', '.join(changed.tags) or 'none'}.")


def _show(
    opened: Archive, wanted: Wanted, everything: bool, picture: Path | None, force: bool, what: str
) -> None:
    """A table of what is wanted, and its contact sheets."""
    for line in slip_lines(opened.damaged_slips(), terminal_width()):
        click.echo(line, err=True)
    total = opened.count(wanted)
    if not total:
        click.echo(_nothing(opened, what))
        return
    limit = None if everything else SHOWN_AT_ONCE
    for line in table(opened.find(wanted, limit), terminal_width()):
        click.echo(line)
    if total > SHOWN_AT_ONCE and not everything:
        click.echo(f"The newest {SHOWN_AT_ONCE} of {total:,}; say --all for the others.")
    else:
        click.echo(f"{count(total, 'design')} {what}.")
    if picture is not None:
        from cli.archive.contact_sheets import contact_sheets

        for line in contact_sheets(opened, wanted, limit, picture, force, what):
            click.echo(line)


def _nothing(opened: Archive, what: str) -> str:
    from cli.archive.design_list import Wanted

    kept = opened.count(Wanted())
    if not kept:
        return f"Nothing is kept yet in {opened.folder}."
    return f"Nothing {what}; {count(kept, 'design')} {'is' if kept == 1 else 'are'} kept."


for _command in (redo, compare, take_out, bring_in, remove, put_back, empty_bin, check, mend):
    archive.add_command(_command)
