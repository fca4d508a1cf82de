"""`pencilamp dark PLAN LIGHT...`: which fault leaves these lights dark or dim, and what to try first.

Exit codes: 0 told, 2 wrong use, 4 the plan can't be read.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from circuit.cautions import mending_cautions
from circuit.errors import UsageError
from circuit.settings import Settings
from circuit.settings_json import settings_from_dict
from cli.commands.lengths import units_option
from cli.output_names import DARK_NAME
from cli.parts_option import parts_option, read_parts
from cli.plan_file import read_plan
from cli.screen import columns, in_lines, print_lines

if TYPE_CHECKING:
    from circuit.faults import DarkTold, FaultRanking
    from circuit.plan import Plan


@click.command("dark", short_help="Find out why a light stays dark.")
@click.argument("plan", type=click.Path(path_type=Path))
@click.argument("dark_lights", nargs=-1, metavar="[LIGHT]...")
@click.option(
    "--dim", "dim_lights", multiple=True, metavar="LIGHT", help="A light that is dim. May be given again."
)
@click.option(
    "--tried",
    metavar="ANSWER",
    multiple=True,
    help="What the suggested test showed, in the words that it offers. Give it again for the next test.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="The folder for the picture.  [default: beside the plan]"
)
@click.option("--no-picture", is_flag=True, help="Tell only.")
@click.option("--force", is_flag=True, help="Write over a picture that is not known to be from this plan.")
@units_option("Units of lengths.  [default: the plan's]")
@parts_option
@click.pass_context
def dark_command(
    ctx: click.Context,
    plan: Path,
    dark_lights: tuple[str, ...],
    dim_lights: tuple[str, ...],
    tried: tuple[str, ...],
    out: Path | None,
    no_picture: bool,
    force: bool,
    units: str | None,
    parts_file: Path | None,
) -> None:
    """Tell why each LIGHT, like L3, of the card in PLAN stays dark while the lid is pressed.

    Lights that you don't name count as lit, and that tells as much as the dark ones do.

    \b
    Example:
      pencilamp dark harbour-plan/plan.json L3 L4 --dim L5
    """
    from circuit.faults import after_trial, rank_faults, tell

    value = read_plan(plan)
    parts = read_parts(parts_file)
    settings = settings_from_dict(value.settings, parts.light, parts.cell, parts.tape)
    if units is not None:
        settings = replace(settings, units="in" if units == "in" else "mm")
    lights = value.lights_from(parts)
    dark_labels, dim_labels = _labels(dark_lights), _labels(dim_lights)
    _require_one_of(dark_labels, dim_labels)
    ranking = rank_faults(value.layout, value.traces, dark_labels, dim_labels, settings, lights)
    for answer in tried:
        ranking = after_trial(ranking, _answer_key(ranking, answer))
    width = columns()
    dark = tell(ranking, value.layout.card, settings.units)
    for line in report(dark, width):
        print_lines(line)
    if dark.faults and not no_picture:
        folder = out or (plan if plan.is_dir() else plan.parent)
        notes = _write_picture(folder, value, dark, settings, force)
        print_lines(f"\nWhere to look: {folder / DARK_NAME}")
        for note in notes:
            print_lines(note)


def report(dark: DarkTold, width: int) -> list[str]:
    """What is printed: what was seen, the one thing to try, what could be wrong, the likeliest first."""
    from cli.commands.summary import Wrapper  # brings plans and their words along, which no help page needs

    wrap = Wrapper(width)
    lines = wrap.plain(dark.seen, "")
    for note in dark.notes:
        lines += wrap.item("!", note)
    if dark.test is not None:
        lines += [
            "",
            "  Try this first:",
            *wrap.item("-", dark.test.text),
            *wrap.item("", "Then ask again, with"),
        ]
        for key, words in dark.test.answers:
            lines += in_lines(f"--tried {key} if {words}", width, " " * 8, " " * 12)
    if not dark.faults:
        return lines
    lines += ["", "  What it could be:"]
    for number, fault in enumerate(dark.faults, 1):
        both = " And at the same time: ".join(fault.texts)
        lines += wrap.item(f"{number}.", f"{fault.how_likely.capitalize()}: {both}")
    lines += ["", *wrap.plain(dark.source, "  "), ""]
    return [*lines, *(line for caution in mending_cautions() for line in wrap.item("!", caution))]


def _labels(typed: tuple[str, ...]) -> list[str]:
    """Labels as people type several: `L3 L4` or `L3,L4`."""
    return [label for text in typed for label in text.split(",") if label.strip()]


def _require_one_of(dark_labels: list[str], dim_labels: list[str]) -> None:
    """A light is dark or dim: UsageError for one that was said to be both."""
    dim = {label.strip().casefold() for label in dim_labels}
    both = [label.strip() for label in dark_labels if label.strip().casefold() in dim]
    if both:
        raise UsageError(f"{both[0]} is named as dark and, with --dim, as dim; say one of the two.")


def _answer_key(ranking: FaultRanking, answer: str) -> str:
    """That answer as the trial knows it; UsageError with the ones that it can have."""
    if ranking.trial is None:
        raise UsageError(f"--tried {answer}: there is nothing left to try; what it is, is told already.")
    wanted = answer.strip().casefold()
    if wanted not in ranking.trial.answers:
        known = ", ".join(ranking.trial.answers)
        raise UsageError(f"--tried {answer}: that is no answer to this test; those are {known}.")
    return wanted


def _write_picture(
    folder: Path, plan: Plan, dark: DarkTold, settings: Settings, force: bool
) -> tuple[str, ...]:
    from cli.opencv import require_opencv

    require_opencv()
    from cli.plan_folder import add_files
    from cli.png import png_bytes
    from vision.drawing.overlay.dark_picture import draw_fault_places

    places = [place for fault in dark.faults for place in zip(fault.places_mm, fault.texts)]
    picture = png_bytes(draw_fault_places(plan, settings, list(dict.fromkeys(places)), dark.seen.rstrip(".")))
    return add_files(folder, {DARK_NAME: picture}, replace=force)
