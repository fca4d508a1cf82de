"""`pencilamp square`: the page of reference squares."""

from __future__ import annotations

from pathlib import Path

import click

from cli.files import write_whole
from cli.output_names import with_ending
from cli.screen import print_lines

DEFAULT_NAME = "reference-squares.pdf"


@click.command(short_help="Make reference squares to print.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=DEFAULT_NAME,
    show_default=True,
    help="The file to write, or a folder for it.",
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"], case_sensitive=False),
    default="letter",
    show_default=True,
    help="The paper in your printer.",
)
@click.option(
    "--units", type=click.Choice(["mm", "in"]), default="mm", show_default=True, help="Units of lengths."
)
@click.option("--force", is_flag=True, help="Write over a file that is already there.")
def square(out: Path, paper: str, units: str, force: bool) -> None:
    """Make a page with reference squares to print, cut out and lay in your photos.

    \b
    Example:
      pencilamp square --paper a4
    """
    from cli.opencv import require_opencv

    require_opencv()
    from cli.pages import square_page
    from cli.pages.paper import paper_named

    target = out / DEFAULT_NAME if out.is_dir() else with_ending(out, ".pdf")
    write_whole(target, square_page(paper_named(paper), "in" if units == "in" else "mm"), replace=force)
    print_lines(f"Wrote {target}. Print it at 100 % and check the ruler at its foot.")
