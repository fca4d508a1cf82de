"""The archive's tests write through to the disk thousands of times: a disk in memory spares them the wait."""

import os
import shutil
import tempfile
from pathlib import Path

import pytest

from cli.archive.store import Archive
from tests.cli.archive.made_up import made_up

IN_MEMORY = Path("/dev/shm")  # Linux: a file system in memory that anyone may write to
LEAST_FREE_BYTES = 500_000_000  # chosen: many times what a test takes


@pytest.fixture
def tmp_path(tmp_path_factory):
    """In place of pytest's own: a new folder, in memory where that can be."""
    if not os.access(IN_MEMORY, os.W_OK) or shutil.disk_usage(IN_MEMORY).free < LEAST_FREE_BYTES:
        yield tmp_path_factory.mktemp("archive")
        return
    place = Path(tempfile.mkdtemp(prefix="pencilamp-test-", dir=IN_MEMORY))
    yield place
    shutil.rmtree(place, ignore_errors=True)


@pytest.fixture
def folder(tmp_path):
    """An archive of twelve designs, the last two in the bin."""
    folder = tmp_path / "archive"
    with Archive(folder, writing=True) as archive:
        new = (made_up(f"Card {i}", shade=i, tags=("class",), note=f"note {i}") for i in range(12))
        archive.remove(archive.keep_all(new)[10:])
    return folder
