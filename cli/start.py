"""The installed command's first and last moments: from here on Ctrl-C ends in one line, even while libraries are
loaded, and nothing is taken apart at the end that the system frees at once."""

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
    except SystemExit as end:
        _leave(end.code)
        raise


def _leave(code: object) -> None:
    """End here, once all is done that was to be done at the end. Freeing every object of NumPy, OpenCV and the like
    one by one takes a twentieth of a whole plan, and libraries end in a crash where a stopped command's thread is still
    at work in them. Comes back where that can't be done so."""
    import atexit
    import signal
    import sys
    import threading

    at_work = any(not one.daemon for one in threading.enumerate() if one is not threading.main_thread())
    if not isinstance(code, int) or (at_work and code != _INTERRUPTED):
        return
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the end itself is not interrupted
    try:
        atexit._run_exitfuncs()
        sys.stdout.flush()
        sys.stderr.flush()
    except (AttributeError, OSError, ValueError):
        return  # no stream, no reader, a full disk: Python knows what to do
    os._exit(code)


if __name__ == "__main__":
    run()
