"""`pencilamp archive take-out, bring-in, remove, put-back, empty-bin`."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.archive.archive_folder import archive_folder
from cli.archive.options import at_option, terminal_width
from cli.archive.printed import count, one_line, size_words, wrapped

if TYPE_CHECKING:
    from cli.archive.kept_design import Design
    from cli.archive.take_out import TakenOut

_LEFT_OUT = (
    "Left out of the photos: place, date, camera and all else that the camera wrote; the picture is the "
    "same. The archive keeps the photos as they were taken; --whole-photos takes them out so."
)
_WHOLE = "The photos hold all that the camera wrote in them, and that may be where and when they were taken."
_NAMED = 10  # chosen: designs listed one by one


@click.command("take-out", short_help="Copy designs into a plain zip.")
@click.argument("designs", nargs=-1)
@click.option("--all", "everything", is_flag=True, help="Every design outside the bin.")
@click.option(
    "--to", "target", type=click.Path(path_type=Path), required=True, metavar="FILE", help="The zip to write."
)
@click.option("--whole-photos", is_flag=True, help="Leave in the photos what the camera wrote in them.")
@click.option("--force", is_flag=True, help="Write over a zip that is already there.")
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
    from circuit.errors import UsageError
    from cli.archive.design_list import Wanted
    from cli.archive.store import Archive
    from cli.archive.take_out import take_out as write_zip

    if bool(designs) == everything:
        raise UsageError("Name the designs to take out, or say --all.")
    with Archive(archive_folder(at), writing=False) as opened:
        chosen = opened.find(Wanted()) if everything else iter(_picked(opened.pick(text) for text in designs))
        taken = write_zip(opened, chosen, target, whole_photos=whole_photos, replace_it=force)
    say_taken(taken, f"{count(taken.designs, 'design')} taken out to {target}.", whole_photos)
    ctx.exit(4 if taken.damaged else 0)


@click.command("bring-in", short_help="Keep the designs of such a zip.")
@click.argument("zips", nargs=-1, required=True, type=click.Path(path_type=Path))
@at_option
@click.pass_context
def bring_in(ctx: click.Context, zips: tuple[Path, ...], at: Path | None) -> None:
    """Keep the designs of ZIPS that `take-out` made.

    \b
    Example:
      pencilamp archive bring-in harbour.zip
    """
    from circuit.errors import PencilampError
    from cli.archive.bring_in import bring_in as keep_zip
    from cli.archive.store import Archive

    code = 0
    with Archive(archive_folder(at), writing=True) as opened:
        for path in zips:
            try:
                brought = keep_zip(opened, path)
            except PencilampError as error:  # one bad zip does not stop the others
                click.echo(str(error), err=True)
                code = max(code, error.exit_code)
                continue
            click.echo(f"{path}: {count(len(brought.kept), 'design')} brought in.")
            for design in brought.kept[:_NAMED]:
                click.echo(f"  {one_line(design)}")
            if len(brought.kept) > _NAMED:
                click.echo(f"  and {len(brought.kept) - _NAMED:,} more")
            _say_already(brought.already)
    ctx.exit(code)


def _say_already(already: list[Design]) -> None:
    if already:
        named = ", ".join(f"{design.title} ({design.number})" for design in already[:_NAMED])
        more = f" and {len(already) - _NAMED:,} more" if len(already) > _NAMED else ""
        was = "it was" if len(already) == 1 else "they were"
        for line in wrapped(f"Here already, and left as {was}: {named}{more}.", terminal_width(), "  ", "  "):
            click.echo(line)
    for design in already[:_NAMED]:
        if design.removed is not None:
            click.echo(f"  {design.title} lies in the bin; `pencilamp archive put-back {design.number}`.")


@click.command(short_help="Put designs into the bin.")
@click.argument("designs", nargs=-1, required=True)
@at_option
def remove(designs: tuple[str, ...], at: Path | None) -> None:
    """Put DESIGNS into the bin. They stay there until `empty-bin`.

    \b
    Example:
      pencilamp archive remove 12
    """
    from cli.archive.store import Archive

    with Archive(archive_folder(at), writing=True) as opened:
        chosen = _picked(opened.pick(text) for text in designs)
        opened.remove(chosen)
    for design in chosen:
        for line in wrapped(f"In the bin: {one_line(design)}.", terminal_width(), "", "  "):
            click.echo(line)
    click.echo(f"`pencilamp archive put-back {chosen[0].number}` takes it out again.")


@click.command("put-back", short_help="Take designs out of the bin again.")
@click.argument("designs", nargs=-1, required=True)
@at_option
def put_back(designs: tuple[str, ...], at: Path | None) -> None:
    """Take DESIGNS out of the bin again.

    \b
    Example:
      pencilamp archive put-back 12
    """
    from cli.archive.store import Archive

    with Archive(archive_folder(at), writing=True) as opened:
        chosen = _picked(opened.pick(text, binned=True) for text in designs)
        opened.put_back(chosen)
    for design in chosen:
        click.echo(f"Back in the archive: {one_line(design)}.")


@click.command("empty-bin", short_help="Do away with what lies in the bin.")
@click.option("--yes", is_flag=True, help="Don't ask.")
@at_option
def empty_bin(yes: bool, at: Path | None) -> None:
    """Do away with all that lies in the bin, for good.

    \b
    Example:
      pencilamp archive empty-bin
    """
    from cli.archive.design_list import Wanted
    from cli.archive.store import Archive

    with Archive(archive_folder(at), writing=True) as opened:
        binned = list(opened.find(Wanted(binned=True)))
        if not binned:
            click.echo("The bin is empty.")
            return
        for design in binned[:_NAMED]:
            click.echo(f"  {one_line(design)}")
        if len(binned) > _NAMED:
            click.echo(f"  and {len(binned) - _NAMED:,} more")
        if not yes:
            click.confirm(f"Do away with {count(len(binned), 'design')} for good?", abort=True)
        gone, freed = opened.empty_bin(binned)
    click.echo(f"{count(gone, 'design')} gone; that frees {size_words(freed)}.")


def say_taken(taken: TakenOut, done: str, whole_photos: bool) -> None:
    """What went out, what did not, and what the photos tell."""
    width = terminal_width()
    lines = wrapped(done, width, "", "")
    if taken.photos:
        lines += wrapped(_WHOLE if whole_photos else _LEFT_OUT, width, "", "")
    for sentence in taken.left_behind:
        lines += wrapped(sentence, width, "- ", "  ")
    for line in lines:
        click.echo(line)


def _picked(designs: Iterable[Design]) -> list[Design]:
    """Each design once, however often it was named."""
    once: dict[int, Design] = {}
    for design in designs:
        once[design.number] = design
    return list(once.values())
