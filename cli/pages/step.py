"""One numbered step of a build sheet, and how a step speaks of a tape's list."""

from __future__ import annotations

from dataclasses import dataclass

from circuit.settings import Corners
from circuit.tape_list import TapePath
from circuit.telling import CORNER_WORDS


@dataclass(frozen=True, slots=True)
class Step:
    """What to do in a few words, and how."""

    heading: str
    text: str


def follow(path: TapePath, sign: str, corners: Corners) -> str:
    """Which list to go by, and how often the tape turns."""
    turn = CORNER_WORDS[corners]
    folds = {0: f"no {turn}", 1: f"one {turn}"}.get(path.folds, f"{path.folds} {turn}s")
    return f"Follow the {sign} list: {folds}."
