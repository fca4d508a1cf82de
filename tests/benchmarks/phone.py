"""The phone page under load: a class at once, many uploads in a row, hostile requests, drags, the first view.

python -m tests.benchmarks.phone class --phones 30
python -m tests.benchmarks.phone uploads --count 500
python -m tests.benchmarks.phone hostile --count 300 --seed 1
python -m tests.benchmarks.phone drags --count 40
python -m tests.benchmarks.phone beside --cards 30
python -m tests.benchmarks.phone reading --repeats 5
python -m tests.benchmarks.phone first-view --repeats 5

Each starts a page of its own and prints a few lines; a run that loses a card, tells a visitor anything or leaves the
server dead ends with an error. Memory is the processes' proportional share (Linux, /proc/PID/smaps_rollup).
"""

from __future__ import annotations

import argparse
import random
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.benchmarks.hostile import attack
from tests.cli.phone.phones import Phone
from tests.cli.phone.running import ROOT, running

_PHOTOS = ("fireflies.jpg", "skyline.jpg", "beacon.jpg")  # three megapixels each
_MB = 1e6
# A slow phone in a slow network, as browser makers' own page audits have them for years (from memory): 150 ms there
# and back, 1.6 Mbit/s down, 0.75 up, a processor four times slower than a computer's.
_SLOW_NETWORK = {"offline": False, "latency": 150, "downloadThroughput": 200_000, "uploadThroughput": 93_750}
_SLOW_PROCESSOR = 4


def photo(number):
    return (ROOT / "sample_images" / _PHOTOS[number % len(_PHOTOS)]).read_bytes()


def memory_bytes(page):
    """What the server and its workers hold, shared pages counted once."""
    return sum(_share(pid) for pid in _family(page.process.pid))


def processor_s(page):
    """Processor time that the server and its living workers have used so far."""
    ticks = 0
    for pid in _family(page.process.pid):
        parts = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        ticks += int(parts[11]) + int(parts[12])
    return ticks / 100


def _family(pid):
    family = [pid]
    for one in family:
        family += map(int, Path(f"/proc/{one}/task/{one}/children").read_text().split())
    return family


def _share(pid):
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:  # it has ended in the meantime
        return 0
    return sum(int(line.split()[1]) * 1024 for line in lines if line.startswith("Pss:"))


class Watching:
    """The most memory that was held while it looked, twice a second."""

    def __init__(self, page):
        self.page, self.most, self._over = page, 0, threading.Event()
        self._thread = threading.Thread(target=self._look)

    def _look(self):
        while not self._over.wait(0.5):
            self.most = max(self.most, memory_bytes(self.page))

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._over.set()
        self._thread.join()


def a_phone(page):
    phone = Phone(page.addresses[0])
    phone.scan()
    return phone


def class_at_once(phones=30):
    """Every phone sends a photo at the same moment."""
    with tempfile.TemporaryDirectory() as drawer, running(Path(drawer), "--class") as page:
        group = [a_phone(page) for _ in range(phones)]

        def one(number):
            begun = time.monotonic()
            card = group[number].read(
                photo(number), most_s=600, moves=False, name=f"{number}.jpg", fields={"name": f"P{number}"}
            )
            return time.monotonic() - begun, group[number].get(card).status

        used = processor_s(page)
        with Watching(page) as watching, ThreadPoolExecutor(phones) as pool:
            done = list(pool.map(one, range(phones)))
        used = processor_s(page) - used
        teacher = Phone(page.addresses[1])
        teacher.scan()
        listed = teacher.get("/class").text.count('href="/cards/')
    seconds = sorted(wait for wait, _ in done)
    assert all(status == 200 for _, status in done) and listed == phones
    print(
        f"{phones} phones: all read; waits {seconds[0]:.0f} to {seconds[-1]:.0f} s, processor time {used:.0f} s "
        f"({used / 2:.0f} s on two cores), most memory {watching.most / _MB:.0f} MB"
    )
    return seconds, watching.most


def uploads(count=500):
    """One photo after the other, in eight goes; memory after each."""
    held = []
    with tempfile.TemporaryDirectory() as drawer, running(Path(drawer)) as page:
        phone = a_phone(page)
        for number in range(count):
            card = phone.read(photo(2), most_s=900)
            assert phone.get(card).status == 200
            if (number + 1) % max(1, count // 8) == 0:
                held.append(memory_bytes(page))
                print(f"{number + 1:5d} uploads: {held[-1] / _MB:6.0f} MB")
    return held


def hostile(count=300, seed=1):
    """Requests of all bad kinds, some of them at the same time; then the server must still serve."""
    dice = random.Random(seed)
    with tempfile.TemporaryDirectory() as drawer, running(Path(drawer)) as page:
        phone = a_phone(page)
        card = phone.read(photo(2))
        before = memory_bytes(page)
        jobs = [(dice.random(), number) for number in range(count)]
        with ThreadPoolExecutor(12) as pool:
            told = [
                line for lines in pool.map(lambda job: attack(page, phone, card, job), jobs) for line in lines
            ]
        assert phone.get(card).status == 200 and phone.get("/").status == 200
        assert phone.read(photo(2))
        grown = memory_bytes(page) - before
    for line in told:
        print(line)
    print(f"{count} hostile requests: {len(told)} told anything; server alive, {grown / _MB:+.0f} MB")
    assert not told
    return told


def drags(count=40, seed=3):
    """From a dropped mark to the new plan, over made-up cards of up to 12 lights."""
    from tests.benchmarks.drags import change_times

    waits = change_times(count, seed)
    late = sum(wait > 1.0 for wait in waits)
    print(
        f"{count} drags: {statistics.median(waits):.2f} s median, {sorted(waits)[int(count * 0.9) - 1]:.2f} s at 90 %, "
        f"{max(waits):.2f} s at most; {count - late} within a second (processor time of the planner)"
    )
    return waits


def beside(cards=30, drags=12):
    """Drags in a browser's own time while the teacher prints the class's sheets, then while they keep cards."""
    with tempfile.TemporaryDirectory() as drawer, running(Path(drawer), "--class") as page:
        group = [a_phone(page) for _ in range(6)]
        read = [group[k % 6].read(photo(2), fields={"name": f"P{k}"}, most_s=600) for k in range(cards)]
        teacher = Phone(page.addresses[1])
        teacher.scan()
        waits = {"nothing": _drag_times(group[0], read[0], drags)}
        kept = iter(read[1:] * drags)
        jobs = {
            "sheets": lambda: teacher.get("/class/sheets.pdf").status == 200,
            "keeping": lambda: teacher.post(f"{next(kept)}/keep", {"title": "x"}).status == 303,
        }
        with Watching(page) as watching:
            for name, job in jobs.items():
                over, done = threading.Event(), []
                worker = threading.Thread(target=_again_and_again, args=(job, over, done))
                worker.start()
                waits[name] = _drag_times(group[0], read[0], drags)
                over.set()
                worker.join()
                assert done and all(done), name
    alone = statistics.median(waits["nothing"])
    for name, times in waits.items():
        median = statistics.median(times)
        print(
            f"drags beside {name}: {median:.2f} s median, {max(times):.2f} s at most, ratio {median / alone:.1f}"
        )
    print(f"most memory {watching.most / _MB:.0f} MB")
    return waits, watching.most


def _again_and_again(job, over, done):
    while not over.is_set():
        done.append(job())


def _drag_times(phone, card, count):
    """Seconds from each of these drags to its answer."""
    seen = phone.get(f"{card}/mend").text
    marks = re.findall(r'data-about="(L\d+)" data-x="([\d.]+)" data-y="([\d.]+)"', seen)
    times = []
    for number in range(count):
        about, x, y = marks[number % len(marks)]
        place = {"across": f"{float(x) + number % 2}mm", "down": f"{y}mm"}
        begun = time.monotonic()
        answer = phone.post(f"{card}/change", {"kind": "move", "about": about, "view": "mend", **place})
        times.append(time.monotonic() - begun)
        assert answer.status == 303, answer.text
    return times


def reading(repeats=5):
    """From the last byte of the photo to the overlay on the page, against the command line's own time."""
    page_s, command_s = [], []
    with tempfile.TemporaryDirectory() as folder, running(Path(folder) / "drawer") as page:
        phone = a_phone(page)
        phone.read(photo(0))
        for number in range(repeats):
            begun = time.monotonic()
            phone.read(photo(0), moves=False)
            page_s.append(time.monotonic() - begun)
            begun = time.monotonic()
            source, out = ROOT / "sample_images" / _PHOTOS[0], Path(folder) / f"plan-{number}"
            command = [sys.executable, "-m", "cli.main", "plan", str(source), "--out", str(out)]
            subprocess.run(command, cwd=ROOT, check=False, capture_output=True)
            command_s.append(time.monotonic() - begun)
    print(
        f"photo to overlay: page {statistics.median(page_s):.2f} s, command line {statistics.median(command_s):.2f} s, "
        f"ratio {statistics.median(a / b for a, b in zip(page_s, command_s)):.2f} (paired)"
    )
    return page_s, command_s


def first_view(repeats=5):
    """From scanning to a page that takes a photo, on a slow phone in a slow network."""
    from tests.cli.phone.browser import a_browser

    with tempfile.TemporaryDirectory() as drawer, running(Path(drawer)) as page, a_browser() as browser:
        looks = [_first_look(browser, page) for _ in range(repeats)]
    sizes, drawn, whole = zip(*looks)
    print(
        f"first view: {max(sizes) / 1000:.0f} kB, drawn after {statistics.median(drawn):.2f} s, whole after "
        f"{statistics.median(whole):.2f} s (1.6 Mbit/s, 150 ms, a processor {_SLOW_PROCESSOR} times slower)"
    )
    return looks


def _first_look(browser, page):
    """Bytes, seconds until something is drawn and until the page is whole, for a phone that was never here."""
    from tests.cli.phone.browser import a_phone

    with a_phone(browser) as tab:
        line, sizes = tab.context.new_cdp_session(tab), []
        line.send("Network.enable")
        line.send("Network.emulateNetworkConditions", _SLOW_NETWORK)
        line.send("Emulation.setCPUThrottlingRate", {"rate": _SLOW_PROCESSOR})
        line.on("Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"]))
        tab.context.unroute_all()  # what stands between page and network would be timed, too
        tab.goto(page.address)
        tab.wait_for_selector("html[data-ready]")
        drawn_ms, whole_ms = tab.evaluate(
            """[performance.getEntriesByName('first-contentful-paint')[0].startTime,
            performance.getEntriesByType('navigation')[0].domInteractive]"""
        )
    return sum(sizes), drawn_ms / 1000, whole_ms / 1000


def main(arguments=None):
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    what = parser.add_subparsers(dest="what", required=True)
    for name, job, options in (
        ("class", class_at_once, {"phones": 30}),
        ("uploads", uploads, {"count": 500}),
        ("hostile", hostile, {"count": 300, "seed": 1}),
        ("drags", drags, {"count": 40, "seed": 3}),
        ("beside", beside, {"cards": 30, "drags": 12}),
        ("reading", reading, {"repeats": 5}),
        ("first-view", first_view, {"repeats": 5}),
    ):
        one = what.add_parser(name)
        one.set_defaults(job=job)
        for option, default in options.items():
            one.add_argument(f"--{option}", type=int, default=default)
    said = vars(parser.parse_args(arguments))
    said.pop("what")
    said.pop("job")(**said)


if __name__ == "__main__":
    main()
