"""The made-up cases are the same in every run, so that a run tells about the change and not about luck.

`pytest --hypothesis-profile=wander` looks for new ones; what it finds belongs into a test of its own.
"""

import os

import pytest
from hypothesis import settings

settings.register_profile("same", derandomize=True)
settings.register_profile("wander", derandomize=False)
settings.load_profile("same")


@pytest.fixture(scope="session", autouse=True)
def no_terminal():
    """Workers of a parallel run are told a terminal's width; what a command prints into a pipe asks for none."""
    os.environ.pop("COLUMNS", None)
