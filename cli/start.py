"""The installed command's first moments: from here on Ctrl-C ends in one line, even while libraries are loaded."""

import os

_INTERRUPTED = 130  # the shell's convention for a command stopped with Ctrl-C, as in `cli.streams`


def run() -> None:
    """Entry point of the installed command; ends the program."""
    try:
        from cli.main import run as run_command

        run_command()
    except KeyboardInterrupt:
        os.write(2, b"Stopped.\n")  # nothing may be loaded any more: these are `cli.streams`' word and number
        os._exit(_INTERRUPTED)  # whatever is half loaded has nothing to tidy up


if __name__ == "__main__":
    run()
