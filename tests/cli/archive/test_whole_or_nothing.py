"""Nothing is ever lost: killed jobs, full disks, folders that can't be written to, two programs at once."""

import errno
import io
import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from cli.alone import alone
from cli.archive import open_list
from cli.archive.archive_folder import LOCK_NAME
from cli.archive.bring_in import bring_in
from cli.archive.health import look_over
from cli.archive.kept_design import NewFile
from cli.archive.mend import mend
from cli.archive.questions import Wanted
from cli.archive.slips import slip_path
from cli.archive.store import Archive
from cli.archive.take_out import take_out
from cli.file_trouble import FileTroubleError
from cli.files import write_whole
from tests.cli.archive.made_up import designs_in, made_up

needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="a child is made with fork and killed")
KILLING = [sys.executable, "-m", "tests.cli.archive.killing"]


def ran(*arguments, code=0):
    finished = subprocess.run(
        [*KILLING, *arguments], capture_output=True, text=True, check=False, cwd=Path(__file__).parents[3]
    )
    assert finished.returncode == code, finished.stderr
    return finished.stdout.splitlines()


@needs_fork
def test_jobs_killed_at_random_moments_leave_every_design_intact(tmp_path):
    # Each job, three times; `--moments 120` is the long run.
    lines = ran("--moments", "3", "--place", str(tmp_path))
    assert len(lines) == 9
    assert all("3 killed" in line and line.endswith("all sound") for line in lines)


@needs_fork
def test_jobs_killed_before_their_steps_leave_every_design_intact(tmp_path):
    # Without --every it is each step: some 900 in all.
    lines = ran("--steps", "--every", "37", "--place", str(tmp_path))
    assert len(lines) == 9
    assert all(line.endswith("all sound") for line in lines)


@needs_fork
def test_the_killing_notices_a_job_that_is_not_whole(tmp_path):
    # A keep that writes the slip before the files are there must be found out.
    code = (
        "import sys\nfrom pathlib import Path\nimport tests.cli.archive.killing as k\n"
        "from cli.archive.kept_design import Design, KeptFile\n"
        "from cli.archive.slips import slip_bytes, slip_path\n"
        "from tests.cli.archive.made_up import made_up\n"
        "def wrong(archive):\n"
        "    new, folder = made_up('Late', shade=240), archive.folder\n"
        "    files = (KeptFile('plan.json', 'plan', 'ab' * 32, 5),)\n"
        "    said = {'identity': new.identity, 'title': new.title, 'kept': new.kept, 'facts': new.facts}\n"
        "    slip_path(folder, 9).write_bytes(slip_bytes(Design(number=9, files=files, **said)))\n"
        "    (folder / 'late').write_bytes(b'x')\n"
        "k._keep = wrong\n"
        f"place = Path({str(tmp_path)!r})\n"
        "job = k.jobs(place)[0]\n"
        "try:\n    k.before_every_step(job, place)\nexcept k.Broken as error:\n    print('noticed', error)\n"
    )
    finished = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[3],
    )
    assert "noticed" in finished.stdout, finished.stderr


KEEP_TWENTY = """
import sys
from pathlib import Path
from cli.archive.store import Archive
from tests.cli.archive.made_up import made_up
for i in range(20):
    with Archive(Path(sys.argv[1]), writing=True) as archive:
        archive.keep(made_up(f"{sys.argv[2]} {i}", shade=i * 2 + (sys.argv[2] == "right")))
"""


def test_two_programs_keep_twenty_each_at_once_and_none_is_lost(tmp_path):
    folder = tmp_path / "archive"  # not there yet: both find that out at once
    children = [
        subprocess.Popen(
            [sys.executable, "-c", KEEP_TWENTY, str(folder), name],
            cwd=Path(__file__).parents[3],
            stderr=subprocess.PIPE,
        )
        for name in ("left", "right")
    ]
    for child in children:
        _, trouble = child.communicate()
        assert child.returncode == 0, trouble
    with Archive(folder, writing=True) as archive:
        titles = {design.title for design in archive.find(Wanted())}
        health = look_over(archive)
    assert titles == {f"{name} {i}" for name in ("left", "right") for i in range(20)}
    assert not health.bad
    assert not health.leftovers


@pytest.fixture
def kept(tmp_path):
    """An archive of three designs, one of them in the bin, and what it holds."""
    folder = tmp_path / "archive"
    with Archive(folder, writing=True) as archive:
        designs = archive.keep_all([made_up(f"Card {i}", shade=i) for i in range(3)])
        archive.remove(designs[2:])
        held = list(archive.every_design())
    return folder, held


def holds(folder, designs):
    with Archive(folder, writing=True) as archive:
        assert list(archive.every_design()) == designs
        health = look_over(archive)
        assert not health.bad
        return health


def jobs_of(folder, place):
    """Every job that writes, by name."""
    with Archive(folder, writing=True) as archive:
        first = archive.pick("1")
        if not (place / "guest.zip").exists():
            with Archive(place / "guest", writing=True) as other:
                taken = other.keep_all([made_up("Guest", shade=77)])
                take_out(other, taken, place / "guest.zip", whole_photos=True, replace_it=False)

    def opened(job):
        with Archive(folder, writing=True) as archive:
            job(archive)

    return {
        "keep": lambda: opened(lambda archive: archive.keep(made_up("Late", shade=99))),
        "bring-in": lambda: opened(lambda archive: bring_in(archive, place / "guest.zip")),
        "remove": lambda: opened(lambda archive: archive.remove([first])),
        "put-back": lambda: opened(lambda archive: archive.put_back([archive.pick("3", binned=True)])),
        "relabel": lambda: opened(
            lambda archive: archive.relabel(1, lambda design: replace(design, title="Otherwise"))
        ),
    }


@pytest.mark.parametrize("job", ["keep", "bring-in", "remove", "put-back", "relabel"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EIO])
def test_a_disk_that_says_no_at_any_write(kept, tmp_path, monkeypatch, job, number):
    # The tests may run as root, whom no permission stops: so the disk itself says no, at each of the
    # job's own writes in turn.
    folder, held = kept
    work = jobs_of(folder, tmp_path)[job]
    real_sync, real_replace = os.fsync, Path.replace
    for step in range(1, 40):
        left = [step]

        def fail(left=left):
            left[0] -= 1
            if left[0] == 0:
                raise OSError(number, os.strerror(number), "somewhere")

        def fsync(handle, fail=fail):
            fail()
            real_sync(handle)

        def replace(self, target, fail=fail):
            fail()
            return real_replace(self, target)

        monkeypatch.setattr(os, "fsync", fsync)
        monkeypatch.setattr(Path, "replace", replace)
        try:
            work()
        except FileTroubleError as error:
            assert str(error).count("\n") == 0
            assert error.exit_code == 4
        except Exception as error:
            assert getattr(error, "exit_code", None) == 4, repr(error)
        else:
            # Past the last write, or in one that may fail without harm: folders that can't be flushed.
            if left[0] > 0:
                break
            monkeypatch.undo()
            shutil.rmtree(folder)
            with Archive(folder, writing=True) as archive:
                designs = archive.keep_all([made_up(f"Card {i}", shade=i) for i in range(3)])
                archive.remove(designs[2:])
                held = list(archive.every_design())
            work = jobs_of(folder, tmp_path)[job]
            continue
        finally:
            monkeypatch.undo()
        holds(folder, held)
    else:
        pytest.fail("the job never came to its end")


def test_a_list_that_cant_be_written_to_stops_nothing(kept, monkeypatch):
    folder, held = kept
    connected = open_list._connected

    def full(path):
        connection = connected(path)
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
        connection.execute(f"PRAGMA max_page_count = {pages}")  # what a full disk says
        return connection

    monkeypatch.setattr(open_list, "_connected", full)
    with Archive(folder, writing=True) as archive:
        late = archive.keep_all(
            made_up(f"Late {i}", shade=i, note=" ".join(["long"] * 1000)) for i in range(50)
        )
        assert archive.count(Wanted(words=("late",))) == 50
    monkeypatch.undo()
    assert not holds(folder, [*late[::-1], *held]).leftovers


RELABEL = """
import sys
from cli.main import main
main(["archive", "relabel", "1", "--add-note", sys.argv[2], "--at", sys.argv[1]], standalone_mode=False)
"""


def test_eight_relabels_at_once_lose_no_line(kept):
    folder, _ = kept
    children = [
        subprocess.Popen(
            [sys.executable, "-c", RELABEL, str(folder), f"line {i}"], cwd=Path(__file__).parents[3]
        )
        for i in range(8)
    ]
    assert [child.wait() for child in children] == [0] * 8
    with Archive(folder, writing=False) as archive:
        assert sorted(archive.pick("1").note.splitlines()) == [f"line {i}" for i in range(8)]


def test_the_bin_is_emptied_of_what_was_shown_only(kept):
    folder, _ = kept
    with Archive(folder, writing=True) as archive:
        shown = list(archive.find(Wanted(binned=True)))
        with Archive(folder, writing=True) as other:
            other.remove([other.pick("1")])
        assert archive.empty_bin(shown)[0] == 1
        assert [design.number for design in archive.find(Wanted(binned=True))] == [1]
        with Archive(folder, writing=True) as other:
            shown = list(archive.find(Wanted(binned=True)))
            other.put_back([other.pick("1", binned=True)])
        assert archive.empty_bin(shown) == (0, 0)
        assert archive.pick("1").title == "Card 0"


@pytest.mark.skipif(sys.platform == "win32", reason="limits are set another way there")
def test_files_that_may_grow_no_further(kept):
    # A limit on a file's size is as near to a full disk as a program gets without rights of its own.
    folder, held = kept
    code = (
        "import resource, signal, sys, io\nfrom pathlib import Path\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "from functools import partial\n"
        "from cli.archive.kept_design import NewFile\nfrom cli.archive.store import Archive\n"
        "from circuit.errors import PencilampError\nfrom dataclasses import replace\n"
        "from tests.cli.archive.made_up import made_up\n"
        "design = made_up('Late')\n"
        "big = NewFile('big.pdf', 'other', partial(io.BytesIO, bytes(5_000_000)))\n"
        "design = replace(design, files=(*design.files, big))\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, 1_000_000))\n"
        "try:\n"
        "    with Archive(Path(sys.argv[1]), writing=True) as archive:\n        archive.keep(design)\n"
        "except PencilampError as error:\n    print(error)\n    sys.exit(error.exit_code)\n"
    )
    finished = subprocess.run(
        [sys.executable, "-c", code, str(folder)],
        capture_output=True, text=True, check=False, cwd=Path(__file__).parents[3],
    )  # fmt: skip
    assert finished.returncode == 4, finished.stderr
    assert "no file of this size" in finished.stdout
    assert finished.stdout.count("\n") == 1
    assert not holds(folder, held).leftovers


def mounted(*arguments):
    return subprocess.run(["mount", *arguments], capture_output=True, check=False).returncode == 0


@pytest.fixture
def small_disk():
    """A disk of one megabyte, where the tests may mount one."""
    place = Path(tempfile.mkdtemp())
    if (
        sys.platform != "linux"
        or os.geteuid() != 0
        or not mounted("-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place))
    ):
        place.rmdir()
        pytest.skip("no disk can be mounted here")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)
    place.rmdir()


def test_a_disk_that_fills_up(small_disk):
    folder = small_disk / "archive"
    held = []
    with pytest.raises(FileTroubleError, match="full"):
        for i in range(1000):
            with Archive(folder, writing=True) as archive:
                big = NewFile("big.pdf", "other", partial(io.BytesIO, os.urandom(30_000)))
                design = made_up(f"Card {i}", shade=i)
                held.append(archive.keep(type(design)(design.title, design.facts, (*design.files, big))))
    assert len(held) > 5
    for _ in range(3):  # and again: a full disk stays full
        with pytest.raises(FileTroubleError), Archive(folder, writing=True) as archive:
            archive.keep(type(design)(design.title, design.facts, (*design.files, big)))
    with Archive(folder, writing=False) as archive:
        assert sorted(archive.every_design(), key=lambda d: d.number) == held
        assert not look_over(archive).bad


def test_a_disk_that_is_read_only_is_read_all_the_same(small_disk):
    folder = small_disk / "archive"
    with Archive(folder, writing=True) as archive:
        kept = archive.keep(made_up("Harbour"))
    assert mounted("-o", "remount,ro", str(small_disk))
    with Archive(folder, writing=False) as archive:
        (found,) = archive.find(Wanted(words=("harb",)))
        assert found == kept
        assert not look_over(archive).bad
    with (
        pytest.raises(FileTroubleError, match="read-only"),
        Archive(folder, writing=True) as archive,
    ):
        archive.keep(made_up("Late"))
    with pytest.raises(FileTroubleError):
        mend(folder)


def nobody():
    return AssertionError("the lock is free")


def test_a_busy_archive_is_waited_for_and_then_said(kept, monkeypatch):
    folder, held = kept
    with alone(folder / LOCK_NAME, 0.0, nobody):
        monkeypatch.setattr(open_list, "WAIT_S", 0.05)
        with Archive(folder, writing=True) as archive, pytest.raises(FileTroubleError, match="busy"):
            archive.keep(made_up("Late"))
    assert not holds(folder, held).leftovers


def test_readers_go_on_while_another_program_writes(kept):
    folder, _ = kept
    with alone(folder / LOCK_NAME, 0.0, nobody) as lock:
        with Archive(folder, writing=False) as archive:
            assert archive.count(Wanted()) == 2
        open_list.mark_behind(lock)
        with Archive(folder, writing=False) as archive:
            assert archive.count(Wanted()) == 2


def test_a_program_that_died_between_slips_and_list_is_noticed_within_one_tick_of_the_clock(kept):
    folder, _ = kept
    slips = folder / "slips" / "000"
    before = slips.stat()
    with alone(folder / LOCK_NAME, 0.0, nobody) as lock:
        open_list.mark_behind(lock)
        slip = slip_path(folder, 1)
        write_whole(slip, slip.read_bytes().replace(b"Card 0", b"Firepit"))
        os.utime(slips, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert "Firepit" in {design.title for design in designs_in(folder)}
    assert (folder / LOCK_NAME).stat().st_size == 0
