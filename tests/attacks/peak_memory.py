"""The most memory that this process has taken so far, or since that was forgotten."""

from __future__ import annotations

import resource
import sys
from pathlib import Path


def peak_memory_mb() -> float:
    """In megabytes; on Linux without what the process before `exec` took."""
    status = Path("/proc/self/status")
    if status.exists():
        most = next(line.split()[1] for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return float(most) / 1e3
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)


def forget_peak() -> None:
    """Count anew from what is held now, where the system can (Linux, proc(5): 5 in `clear_refs`)."""
    counter = Path("/proc/self/clear_refs")
    if counter.exists():
        counter.write_text("5")
