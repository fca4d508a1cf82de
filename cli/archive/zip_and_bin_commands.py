"""`pencilamp archive take-out, bring-in, remove, put-back, empty-bin`."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import click

from circuit.errors import UsageError
from cli.archive.archive_folder import archive_folder
from cli.archive.bring_in import bring_in as keep_zip
from cli.archive.kept_design import Design
from cli.archive.options import FILE, at_option, each, out_options, say
from cli.archive.printed import count, one_line, size_words
from cli.archive.questions import Wanted
from cli.archive.store import Archive
from cli.archive.take_out import TakenOut
from cli.archive.take_out import take_out as write_zip
from cli.output_names import with_ending
from cli.screen import print_lines

_LEFT_OUT = (
    "Left out of the photos: place, date, camera and all else that the camera wrote; the picture is the "
    "same. The archive keeps the photos as they were taken; --whole-photos takes them out so."
)
_WHOLE = "The photos hold all that the camera wrote in them, and that may be where and when they were taken."
_NAMED = 10  # chosen: designs listed one by one


@click.command("take-out", short_help="Copy designs into a plain zip.")
@click.argument("designs", nargs=-1)
@click.option("--all", "everything", is_flag=True, help="Every design outside the bin.")
@click.option("--to", "target", type=FILE, required=True, metavar="FILE", help="The zip to write.")
@out_options
@at_option
@click.pass_context
def take_out(
    ctx: click.Context,
    designs: tuple[str, ...],
    everything: bool,
    target: Path,
    whole_photos: bool,
    force: bool,
    at: Path | None,
) -> None:
    """Copy DESIGNS into a plain zip: photo, plan, overlay and pages of each. They stay in the archive.

    \b
    Example:
      pencilamp archive take-out "Harbour at night" --to harbour.zip
    """
    if bool(designs) == everything:
        raise UsageError("Name the designs to take out, or say --all.")
    target = with_ending(target, ".zip")
    with Archive(archive_folder(at), writing=False) as opened:
        # In the order in which they were kept: where they are brought in they are numbered so.
        chosen = (
            opened.find(Wanted(), oldest_first=True)
            if everything
            else iter(_picked(opened.pick(text) for text in designs))
        )
        taken = write_zip(opened, chosen, target, whole_photos=whole_photos, replace_it=force)
    say_taken(taken, f"{count(taken.designs, 'design')} taken out to {target}.", whole_photos)
    ctx.exit(4 if taken.damaged else 0)


@click.command("bring-in", short_help="Keep the designs of such a zip.")
@click.argument("zips", nargs=-1, required=True, type=FILE)
@at_option
@click.pass_context
def bring_in(ctx: click.Context, zips: tuple[Path, ...], at: Path | None) -> None:
    """Keep the designs of ZIPS that `take-out` made.

    \b
    Example:
      pencilamp archive bring-in harbour.zip
    """
    with Archive(archive_folder(at), writing=True) as opened:

        def keep_all(path: Path) -> None:
            brought = keep_zip(opened, path)
            print_lines(f"{path}: {count(len(brought.kept), 'design')} brought in.")
            _listed(brought.kept)
            if brought.already:
                named = ", ".join(f"{design.title} ({design.number})" for design in brought.already[:_NAMED])
                more = f" and {len(brought.already) - _NAMED:,} more" if len(brought.already) > _NAMED else ""
                was = "it was" if len(brought.already) == 1 else "they were"
                say(f"Here already, and left as {was}: {named}{more}.", "  ")
            for design in brought.already[:_NAMED]:
                if design.removed is not None:
                    say(
                        f"{design.title} lies in the bin; `pencilamp archive put-back {design.number}`.", "  "
                    )

        ctx.exit(each(zips, str, keep_all))


def _listed(designs: list[Design]) -> None:
    for design in designs[:_NAMED]:
        say(one_line(design), "  ", "    ")
    if len(designs) > _NAMED:
        print_lines(f"  and {len(designs) - _NAMED:,} more")


@click.command(short_help="Put designs into the bin.")
@click.argument("designs", nargs=-1, required=True)
@at_option
def remove(designs: tuple[str, ...], at: Path | None) -> None:
    """Put DESIGNS into the bin. They stay there until `empty-bin`.

    \b
    Example:
      pencilamp archive remove 12
    """
    with Archive(archive_folder(at), writing=True) as opened:
        chosen = _picked(opened.pick(text) for text in designs)
        opened.remove(chosen)
    for design in chosen:
        say(f"In the bin: {one_line(design)}.", "", "  ")
    print_lines(f"`pencilamp archive put-back {chosen[0].number}` takes it out again.")


@click.command("put-back", short_help="Take designs out of the bin again.")
@click.argument("designs", nargs=-1, required=True)
@at_option
def put_back(designs: tuple[str, ...], at: Path | None) -> None:
    """Take DESIGNS out of the bin again.

    \b
    Example:
      pencilamp archive put-back 12
    """
    with Archive(archive_folder(at), writing=True) as opened:
        chosen = _picked(opened.pick(text, binned=True) for text in designs)
        opened.put_back(chosen)
    for design in chosen:
        say(f"Back in the archive: {one_line(design)}.", "", "  ")


@click.command("empty-bin", short_help="Do away with what lies in the bin.")
@click.option("--yes", is_flag=True, help="Don't ask.")
@at_option
def empty_bin(yes: bool, at: Path | None) -> None:
    """Do away with all that lies in the bin, for good.

    \b
    Example:
      pencilamp archive empty-bin
    """
    with Archive(archive_folder(at), writing=True) as opened:
        binned = list(opened.find(Wanted(binned=True)))
        if not binned:
            print_lines("The bin is empty.")
            return
        _listed(binned)
        if not yes:
            click.confirm(f"Do away with {count(len(binned), 'design')} for good?", abort=True)
        gone, freed = opened.empty_bin(binned)
    print_lines(f"{count(gone, 'design')} gone; that frees {size_words(freed)}.")


def say_taken(taken: TakenOut, done: str, whole_photos: bool) -> None:
    """What went out, what did not, and what the photos tell."""
    say(done)
    if taken.photos:
        say(_WHOLE if whole_photos else _LEFT_OUT)
    for sentence in taken.left_behind:
        say(sentence, "- ", "  ")


def _picked(designs: Iterable[Design]) -> list[Design]:
    """Each design once, however often it was named."""
    return list({design.number: design for design in designs}.values())
