"""The one typeface of overlay and pages, carried in the package so that every machine draws alike."""

from pathlib import Path
from typing import Literal

Weight = Literal["regular", "bold"]
_FILES = {"regular": "OpenSans-Regular.ttf", "bold": "OpenSans-Bold.ttf"}


def font_path(weight: Weight = "regular") -> Path:
    """Where the TrueType file of that weight lies."""
    return Path(__file__).with_name(_FILES[weight])
