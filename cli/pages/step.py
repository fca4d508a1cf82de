"""One numbered step of a build sheet, and how a step speaks of a tape's list."""

from __future__ import annotations

from dataclasses import dataclass

from circuit.tape_list import TapePath


@dataclass(frozen=True, slots=True)
class Step:
    """What to do in a few words, and how."""

    heading: str
    text: str


def follow(path: TapePath, sign: str) -> str:
    """Which list to go by, and how often it folds."""
    folds = {0: "no fold", 1: "one fold"}.get(path.folds, f"{path.folds} folds")
    return f"Follow the {sign} list: {folds}."
