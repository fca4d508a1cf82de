"""Which name was most likely meant by one that is not in a list.

In:    what was typed, the list's names.
Out:   one of the names, or None.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Iterable

_SLIP = 0.75  # of difflib's likeness: one letter of four (5051, 5050) is a slip. Chosen


def plain_name(name: str) -> str:
    """What two spellings of one name share: capitals, spaces and dashes don't count."""
    return "".join(name.casefold().replace("_", " ").replace("-", " ").split())


def name_meant(typed: str, names: Iterable[str]) -> str | None:
    """The only name that holds what was typed (2032), or the nearest where it is a slip away."""
    from difflib import get_close_matches  # only for who mistyped

    wanted, plain = plain_name(typed), {plain_name(name): name for name in names}
    holding = [key for key in plain if wanted and wanted in key]
    near = holding or get_close_matches(wanted, plain, n=1, cutoff=_SLIP)
    return plain[near[0]] if len(near) == 1 else None


def did_you_mean(typed: str, names: Iterable[str]) -> str:
    """`Did you mean CR2032? `, with a space behind it, or nothing."""
    meant = name_meant(typed, names)
    return f"Did you mean {meant}? " if meant else ""
