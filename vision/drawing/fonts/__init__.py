"""The one typeface of overlay and pages, carried in the package so that every machine draws alike."""

import hashlib
from functools import cache
from pathlib import Path
from typing import Literal

from circuit.errors import PencilampError

Weight = Literal["regular", "bold"]
_FILES = {"regular": "OpenSans-Regular.ttf", "bold": "OpenSans-Bold.ttf"}
# A damaged file may still draw, but the wrong signs; so each is known by its content.
_SHA256 = {
    "regular": "e64e508b2aa2880f907e470c4550980ec4c0694d103a43f36150ac3f93189bee",
    "bold": "5894a3649b213cf5b2d673b6e7a871815fd1d120fa68a463592f27db14eae323",
}


class TypefaceError(PencilampError):
    """A file of the package is missing or damaged; one sentence, exit code 4."""


@cache
def font_path(weight: Weight = "regular") -> Path:
    """Where the TrueType file of that weight lies. Raises TypefaceError where it isn't the one that was packed."""
    path = Path(__file__).with_name(_FILES[weight])
    try:
        sound = hashlib.sha256(path.read_bytes()).hexdigest() == _SHA256[weight]
    except OSError:
        sound = False
    if not sound:
        raise TypefaceError(
            f"{path}: this typeface of Pencilamp's is missing or damaged; install Pencilamp again."
        )
    return path
