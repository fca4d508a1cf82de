"""Why a photo could not be read: each error is one sentence that names the cause and the remedy.

The `where_px` of an error, when there is one, is what `refusal.png` circles: points in the
photo as a viewer shows it, x right, y down.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from circuit.errors import PencilampError
from circuit.lengths import format_length


class PhotoError(PencilampError):
    """The photo could not be read (exit code 3); nothing is written over."""

    exit_code = 3
    cause = "unreadable"  # a short stable word for benchmarks and tests

    def __init__(
        self,
        message: str,
        where_px: Sequence[tuple[float, float]] = (),
        lengths_mm: Mapping[str, float] | None = None,
    ) -> None:
        """`message` may name lengths in braces, as `{side_mm}`; `lengths_mm` holds them."""
        self._message, self._lengths_mm = message, dict(lengths_mm or {})
        self.where_px = tuple((float(x), float(y)) for x, y in where_px)
        super().__init__(self.sentence("mm"))

    def sentence(self, units: str) -> str:
        """What went wrong, its lengths in the maker's units."""
        if not self._lengths_mm:
            return self._message
        told = {
            name: format_length(mm, "in" if units == "in" else "mm") for name, mm in self._lengths_mm.items()
        }
        return self._message.format_map(told)


class NoSquareError(PhotoError):
    """Neither a coded nor a plain reference square is in sight."""

    cause = "no-square"


class SquareCutOffError(PhotoError):
    """The reference square runs out of the picture."""

    cause = "square-cut-off"


class ManySquaresError(PhotoError):
    """Several dark squares could each be the reference."""

    cause = "many-squares"


class NoCardError(PhotoError):
    """No four straight edges that bound a card."""

    cause = "no-card"


class CardCutOffError(PhotoError):
    """The card runs out of the picture."""

    cause = "card-cut-off"


class TooBlurredError(PhotoError):
    """Pencil dots could not be told from blur."""

    cause = "too-blurred"


class TooDarkError(PhotoError):
    """Too little light, or none."""

    cause = "too-dark"


class TooSmallError(PhotoError):
    """Too few pixels on the card for its marks."""

    cause = "too-small"


class SquareCardDisagreeError(PhotoError):
    """The square makes the card a size that it can't have."""

    cause = "square-card-disagree"


class NoBatteryError(PhotoError):
    """No circle of a cell's size."""

    cause = "no-battery"


class TwoBatteriesError(PhotoError):
    """Two circles of a cell's size."""

    cause = "two-batteries"


class NoDotsError(PhotoError):
    """Not one light."""

    cause = "no-dots"
