"""`pencilamp archive show`: one design in full, and its files."""

from __future__ import annotations

from pathlib import Path

import click

from circuit.settings import Units
from cli.archive.archive_folder import archive_folder
from cli.archive.options import FILE, at_option, out_options, terminal_width, units_option
from cli.archive.printed import design_lines
from cli.archive.store import Archive, kept_plan
from cli.archive.take_out import lay_out
from cli.archive.zip_and_bin_commands import say_taken
from cli.screen import print_lines


@click.command(short_help="Show all that is known of one.")
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
