"""A worker process: one job after the other from its standard input, each answered on its standard output.

Run as `python -P -m cli.phone.worker`. A message is its length in four bytes, then JSON. Jobs are run by
`cli.phone.planning`; this module only carries them and sets the limits that one bad photo can't get past.
"""

from __future__ import annotations

import json
import math
import os
import signal
import struct
import sys
from typing import Any, BinaryIO

LENGTH = struct.Struct(">I")
# Chosen: a photo of 110 megapixels that can't be halved on its way in takes some 1 GB with its working copies.
MOST_DATA_BYTES = 2_500_000_000
MOST_FILE_BYTES = 500_000_000  # chosen: nothing that a worker writes comes near it
PROCESSOR_S = "processor_s"  # a job's key: the processor time that it may take [s]
# How a worker ends that took more; None on a system that does not count it.
OVERRUN = -getattr(signal, "SIGXCPU", 0) or None
_POLITE = 5  # chosen: the server itself goes first when both cores are busy


def main() -> None:
    """Do one job after the other until the server closes the input."""
    jobs, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints must not get between the answers
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's affair; it closes our input
    _set_limits()
    from cli.phone.planning import run_job

    while True:
        job = read_message(jobs)
        if job is None:
            return
        limit_processor_time(job.pop(PROCESSOR_S, None))
        write_message(answers, run_job(job))


def read_message(source: BinaryIO) -> dict[str, Any] | None:
    """The next message; None at the end."""
    head = source.read(LENGTH.size)
    if len(head) < LENGTH.size:
        return None
    value: dict[str, Any] = json.loads(source.read(LENGTH.unpack(head)[0]))
    return value


def write_message(target: BinaryIO, value: dict[str, Any]) -> None:
    """Send a value as JSON, its length before it. Raises OSError where nobody reads."""
    data = json.dumps(value).encode()
    target.write(LENGTH.pack(len(data)) + data)
    target.flush()


def limit_processor_time(most_s: float | None) -> None:
    """End this process when it has worked for so long from now on, to the second; where the system can do it."""
    try:
        import resource
    except ImportError:
        return
    used = resource.getrusage(resource.RUSAGE_SELF)
    hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
    ends = hard if most_s is None else math.ceil(used.ru_utime + used.ru_stime + most_s)
    resource.setrlimit(
        resource.RLIMIT_CPU, (ends if hard == resource.RLIM_INFINITY else min(ends, hard), hard)
    )


def _set_limits() -> None:
    """Memory, file size and no core dumps, where the system can do it; Windows can't, time is kept everywhere."""
    try:
        import resource
    except ImportError:
        return
    os.nice(_POLITE)
    for what, most in (
        (resource.RLIMIT_DATA, MOST_DATA_BYTES),
        (resource.RLIMIT_FSIZE, MOST_FILE_BYTES),
        (resource.RLIMIT_CORE, 0),
    ):
        hard = resource.getrlimit(what)[1]
        limit = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (limit, limit))


if __name__ == "__main__":
    main()
