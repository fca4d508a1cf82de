"""The phone page as a maker starts it: `pencilamp phone`, in a process of its own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[3]


@dataclass
class Running:
    """A started page; `addresses` with their keys, in the order in which they were printed."""

    process: subprocess.Popen
    addresses: list[str]
    printed: list[str] = field(default_factory=list)

    @property
    def address(self):
        return self.addresses[0]

    @property
    def site(self):
        return self.address.split("/in/")[0]

    def kill(self):
        """As a power cut would."""
        self.process.kill()
        self.process.wait(10)


@contextmanager
def running(drawer, *more, port=0, archive=None):
    """The page with its cards in `drawer`; stopped with Ctrl-C at the end."""
    page = start(drawer, *more, port=port, archive=archive)
    try:
        yield page
    finally:
        stop(page)


def start(drawer, *more, port=0, archive=None):
    command = [sys.executable, "-m", "cli.main", "phone", "--only-here", "--drawer", str(drawer)]
    command += ["--port", str(port or free_port()), *more]
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "PENCILAMP_ARCHIVE": str(archive or drawer / "archive"),
    }
    process = subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    page = Running(process, [])
    wanted = 2 if "--class" in more else 1
    for line in process.stdout:
        page.printed.append(line.rstrip("\n"))
        if line.startswith("http://"):
            page.addresses.append(line.strip())
        if "Ctrl-C stops" in line:
            break
    assert len(page.addresses) == wanted, page.printed
    return page


def stop(page):
    if page.process.poll() is None:
        page.process.send_signal(signal.SIGINT)
        page.process.wait(20)
    page.process.stdout.close()


def free_port():
    import socket

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]
