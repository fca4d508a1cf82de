"""placeholder"""

from __future__ import annotations
from typing import Any


def find_drawn_lines(*_: Any) -> tuple[Any, ...]:
    return ()
