"""`pencilamp sheet PLAN`: the pages to build from, from a plan file alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from circuit.settings_json import settings_from_dict
from cli.output_names import BUILD_NAME, CLASS_NAME, MARKS_NAME, MIRRORED_NAME, SHEET_NAME
from cli.parts_option import parts_option, read_parts
from cli.plan_file import read_plan
from cli.screen import print_lines

_MOST_COPIES = 10_000  # chosen: a slip of the finger is told before its list is made


@click.command(short_help="Make the pages of a plan again.")
@click.argument("plan", type=click.Path(path_type=Path))
@click.option(
    "--out", type=click.Path(path_type=Path), help="The folder to write to.  [default: beside the plan]"
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"], case_sensitive=False),
    help="The paper in your printer.  [default: letter for inches and cards cut from Letter, else a4]",
)
@click.option("--units", type=click.Choice(["mm", "in"]), help="Units of lengths.  [default: the plan's]")
@click.option(
    "--copies",
    type=click.IntRange(1, _MOST_COPIES),
    metavar="NUMBER",
    default=1,
    show_default=True,
    help="How many cards the list of supplies is for.",
)
@parts_option
@click.option("--mirrored", is_flag=True, help="Also the card as seen from behind.")
@click.option("--marks", is_flag=True, help="Also the marks alone, to print on card stock.")
@click.option(
    "--class",
    "for_class",
    is_flag=True,
    help="Also a pack for a class of --copies: a pupil's page, a teacher's list, marked cards.",
)
@click.option("--force", is_flag=True, help="Write over pages that are not known to be from this plan.")
def sheet(
    plan: Path,
    out: Path | None,
    paper: str | None,
    units: str | None,
    copies: int,
    parts_file: Path | None,
    mirrored: bool,
    marks: bool,
    for_class: bool,
    force: bool,
) -> None:
    """Make the pages to build from again, from the PLAN file (or its folder) alone.

    \b
    Example:
      pencilamp sheet harbour/plan.json --copies 20
    """
    from cli.opencv import require_opencv

    value = read_plan(plan)
    parts = read_parts(parts_file)
    settings = settings_from_dict(value.settings, parts.light, parts.cell, parts.tape)
    if units is not None:
        settings = replace(settings, units="in" if units == "in" else "mm")
    if marks or for_class:
        require_opencv()  # the coded square's pattern comes from it
    from cli.pages import build_pages, class_pages, marks_pages, sheet_pages
    from cli.pages.paper import paper_named
    from cli.plan_folder import add_files

    on = None if paper is None else paper_named(paper)
    folder = out or (plan if plan.is_dir() else plan.parent)
    pages = {
        SHEET_NAME: sheet_pages(value, settings, on),
        BUILD_NAME: build_pages(value, settings, on, copies=copies),
    }
    if mirrored:
        pages[MIRRORED_NAME] = sheet_pages(value, settings, on, mirrored=True)
    if marks:
        pages[MARKS_NAME] = marks_pages(value, settings, on)
    if for_class:
        pages[CLASS_NAME] = class_pages(value, settings, on, copies=copies)
    notes = add_files(folder, pages, replace=force)
    if for_class and copies == 1:
        notes += ("The class pack is for 1 card; for a class of 20 say --copies 20.",)
    for name in pages:
        print_lines(f"Wrote {folder / name}")
    for note in notes:
        print_lines(note)
