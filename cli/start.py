"""The installed command's first moments: from here on Ctrl-C ends in one line, even while libraries are loaded."""

from __future__ import annotations

import os
from typing import NoReturn


def run() -> NoReturn:
    """Entry point of the installed command."""
    try:
        from cli.main import run as run_command

        run_command()
    except KeyboardInterrupt:
        from cli.streams import INTERRUPTED, STOPPED

        os.write(2, f"{STOPPED}\n".encode())
        os._exit(INTERRUPTED)  # whatever is half loaded has nothing to tidy up


if __name__ == "__main__":
    run()
