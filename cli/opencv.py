"""One sentence when OpenCV can't start, instead of a traceback about a shared library."""

from __future__ import annotations

from circuit.errors import PencilampError


class MissingLibraryError(PencilampError):
    """A library that reading photos needs is not on this computer."""

    exit_code = 4


def require_opencv() -> None:
    """Raise MissingLibraryError, naming the Debian packages, when OpenCV does not load."""
    try:
        import cv2  # noqa: F401  (only to see whether it loads)
    except ImportError as error:
        raise MissingLibraryError(
            f"OpenCV, which reads the photos, can't start ({error}); on Debian or Ubuntu run "
            "`apt-get install libgl1 libglib2.0-0`, elsewhere `pip install --force-reinstall opencv-python`."
        ) from error
