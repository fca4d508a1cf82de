"""The build sheet's numbered steps, for one very card: one act each, and each can be done with what the ones before
it left.

In:    a `Build`.
Out:   headings and plain text, lengths in the maker's units.

They are read with tape on one's fingers: what to do stands in the heading, how in a sentence or two.
"""

from __future__ import annotations

from circuit.foam_words import foam_words, height_words
from circuit.lengths import format_length
from circuit.rules import limit_of
from circuit.supplies import light_tape_mm
from circuit.switch import CORNER_CUT_MM, FOAM_STRIP_MM, Switch
from circuit.telling import CORNER_WORDS
from cli.pages.branch_steps import branch_steps
from cli.pages.build_data import Build
from cli.pages.build_words import side, way
from cli.pages.pieces import by, pieces_of
from cli.pages.step import Step, follow


def steps(build: Build) -> list[Step]:
    """From the printed sheet to the closed card; none without traces."""
    if build.plan.traces is None or build.tapes is None:
        return []
    if build.switch is None:
        laid = [_prick(build), _cut_strip(build), _negative(build), _positive(build)]
        return [*laid, *branch_steps(build), _fix(build)]
    return [
        _prick(build),
        *_flap(build, build.switch),
        *_on_card(build, build.switch),
        *_join(build, build.switch),
        *_lights(build),
        *_close(build),
    ]


def _prick(build: Build) -> Step:
    assert build.tapes is not None
    corner = CORNER_WORDS[build.settings.corners]
    folds = (
        f", both ends of each {corner}'s line"
        if build.tapes.negative.folds + build.tapes.positive.folds
        else ""
    )
    cell = ", the cell's middle" if build.switch is not None else ""
    return Step(
        "Prick the places through",
        "Lay the true-size sheet on the back card, edge on edge. Prick through each light's cross, the tapes' "
        f"ends{folds}{cell}.",
    )


def _cut_strip(build: Build) -> Step:
    assert build.tapes is not None
    units = build.settings.units
    return Step(
        f"Cut one strip of {format_length(build.tapes.strip_mm, units)}",
        f"Copper tape {height_words(build.tapes.strip_width_mm, units)} wide. Split it lengthwise into two of "
        f"{height_words(build.tapes.strip_width_mm / 2, units)}: one is +, one −.",
    )


def _flap(build: Build, switch: Switch) -> list[Step]:
    """Flat on the table."""
    units, pieces = build.settings.units, pieces_of(build.settings, switch)
    under, past, bare = (
        format_length(length, units)
        for length in (switch.wrap_mm, switch.wrap_mm - switch.shape.half_mm, pieces.bare_under_lid_mm)
    )
    crease = (
        " Crease it at both broken lines: down at the lid, out at the foot."
        if switch.tongue == "upright"
        else ""
    )
    return [
        Step(
            "Cut out the flap",
            f"Thin card, by the pattern on the true-size sheet. Prick its cross and the tape's line through.{crease}",
        ),
        _cut_strip(build),
        Step(
            "+ tape under the lid",
            f"Turn the flap over. Along the pricked line stick the first {under} of the + tape on the lid: from {past} "
            "past its middle, on the tongue's side, out to the free end.",
        ),
        Step(
            "Clear tape on it",
            f"{by(pieces.lid_cover_mm, units)}, from the free end on. The last {bare} of copper stay bare.",
        ),
        Step(
            "+ tape over the flap",
            "Round the free end, then along the line over lid, ramp and tab. Let the rest hang, its paper on.",
        ),
    ]


def _on_card(build: Build, switch: Switch) -> list[Step]:
    """What lies under the flap."""
    units, pieces = build.settings.units, pieces_of(build.settings, switch)
    long, short = (format_length(length, units) for length in pieces.foam_mm)
    foam = foam_words(build.foam, build.settings) if build.foam else "foam"
    return [
        Step(
            "Glue a paper dot on",
            f"Thin paper, {format_length(switch.dot_mm, units)} across, at the cell's middle. It lifts the copper to "
            "the cell.",
        ),
        _negative(build),
        Step(
            "Clear tape on the − tape",
            f"{by(pieces.cover_mm, units)}, over the dotted box: from beside the dot to past the tab's place. The "
            f"cell's rim is + and must not touch this tape. {format_length(pieces.bare_on_card_mm, units)} under the "
            "cell stay bare.",
        ),
        Step(
            "Cut the foam for the frame",
            f"{foam[:1].upper()}{foam[1:]}: two strips of {long} and two of {short}, "
            f"{format_length(FOAM_STRIP_MM, units)} wide.",
        ),
        Step(
            "Stick the frame on",
            "On all four sides of the cell, along and across the tape, the short strips between the long ones: "
            f"{short} x {short} free inside. Cut {format_length(CORNER_CUT_MM, units)} off the corners. Leave the "
            "upper liner on.",
        ),
    ]


def _join(build: Build, switch: Switch) -> list[Step]:
    """Flap and card, then all that can be tried without fixing anything."""
    down = (
        "Stand the tongue up against the foam."
        if switch.tongue == "upright"
        else "Let the ramp come down in an easy bend."
    )
    return [
        Step(
            "Glue the tab down",
            f"Lay the lid on the frame, corner on corner, its taped outer face up. {down} Glue the tab's underside to "
            f"the card, at the {side(switch.hinge_deg)} of the cell, over the clear tape.",
        ),
        _positive(build),
        *branch_steps(build),
        Step(
            "Put the cell in",
            f"Lift the lid, lay the {build.settings.cell.name} into the frame, + face up, lay the lid down.",
        ),
        Step(
            "Try each light",
            "Hold it on its cross, its + side as in the list, and press the lid's middle: it lights. Dark? Turn it "
            "round, rub the tapes, or see “What you see”.",
        ),
        Step("Take the cell out", "A loop of sticky tape lifts it."),
    ]


def _negative(build: Build) -> Step:
    assert build.tapes is not None
    path = build.tapes.negative
    heading = path.runs[0].heading_deg
    where = f"Start at its end by the cell and go {way(heading)}."
    if build.switch is not None:
        past = format_length(build.switch.past_middle_mm, build.settings.units)
        where = (
            f"Copper up, over the dot. Start {past} past the cell's middle, at its {side(heading + 180.0)}, and go "
            f"{way(heading)}."
        )
    return Step("Lay the − tape", f"{where} {follow(path, '−', build.settings.corners)} Rub it down hard.")


def _positive(build: Build) -> Step:
    assert build.tapes is not None
    where = "Start at the cell." if build.switch is None else "Go on from the tab, copper up."
    return Step(
        "Lay the + tape",
        f"{where} {follow(build.tapes.positive, '+', build.settings.corners)} Rub it down hard.",
    )


def _lights(build: Build) -> list[Step]:
    return [
        _fix(build),
        Step(
            "Try them all again",
            "Cell in, + face up, lid down. Press: all light. Let go: all go dark.",
        ),
    ]


def _fix(build: Build) -> Step:
    size = by(light_tape_mm(build.settings), build.settings.units)
    out = "The cell is out. " if build.switch is not None else ""
    return Step(
        "Fix the lights",
        f"{out}Each lies across both tapes, bare copper under both its ends. Stick clear tape, {size}, over it and rub "
        "it down all round. Glue or solder first if your lights ask for it.",
    )


def _close(build: Build) -> list[Step]:
    wide = format_length(limit_of(build.settings, "light-near-edge"), build.settings.units)
    window = ", its window over the lights" if build.plan.layout.window is not None else ""
    return [
        Step(
            "Going by post?",
            "Lay a paper strip on the cell, out at one side. On arrival it is pulled, then the liner under it.",
        ),
        Step(
            "Close the lid",
            "Pull the frame's liner, but not under a strip. Press the lid down all round: the cell stays in, "
            "but paper keeps no child out. With the liner left on you can change the cell, and a child can get at it "
            "at once.",
        ),
        Step(
            "Foam round the card",
            f"{wide} wide, one layer of card higher than the frame; none where they would meet.",
        ),
        Step("Lay the front on", f"Press it down{window}. Mark where to press."),
    ]
