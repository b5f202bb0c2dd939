"""The two readers that every pack encloses, on a large pack: how long, how much memory."""

import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from ledger.audit.enclosed import enclosed
from ledger.audit.layout import PAGE, VERIFIER
from tests.audit.browser import CHROMIUM, chromium

_FILE = """
import runpy, sys, time
sys.argv = sys.argv[1:]
try:
    runpy.run_path(sys.argv[0], run_name="__main__")
except SystemExit as ended:
    most = next(line for line in open("/proc/self/status") if line.startswith("VmHWM"))
    print(ended.code, time.process_time(), most.split()[1], file=sys.stderr)
"""

_TICK = """
window.gap = 0;
let last = performance.now();
setInterval(() => {
  const now = performance.now();
  window.gap = Math.max(window.gap, now - last);
  last = now;
}, 20);
"""


@dataclass(frozen=True)
class ByFile:
    """What the file of Python took.

    Attributes:
        status: What it ended with.
        seconds: Time of the processor.
        most_kb: The most memory it had.
    """

    status: int
    seconds: float
    most_kb: int


@dataclass(frozen=True)
class ByPage:
    """What the page took.

    Attributes:
        verdict: What it says.
        seconds: From the choice of the pack to the verdict, by the clock on the wall.
        standstill: Longest time for which it did not answer, in seconds.
        heap_mb: Memory of its script in the end, in millions of bytes.
    """

    verdict: str
    seconds: float
    standstill: float
    heap_mb: float


def by_file(pack: Path) -> ByFile:
    """Check a pack with the file of Python, in a process of its own."""
    with tempfile.TemporaryDirectory() as scratch:
        file = Path(scratch) / VERIFIER
        file.write_bytes(enclosed()[VERIFIER])
        words = (sys.executable, "-c", _FILE, str(file), str(pack))
        done = subprocess.run(words, capture_output=True, text=True, check=True)
    status, seconds, most_kb = done.stderr.split()[-3:]
    return ByFile(int(status), float(seconds), int(most_kb))


def by_page(pack: Path) -> ByPage | None:
    """Check a pack with the page, in a browser; None where there is none."""
    if not CHROMIUM.exists():
        return None
    with tempfile.TemporaryDirectory() as scratch, chromium() as browser:
        file = Path(scratch) / PAGE
        file.write_bytes(enclosed()[PAGE])
        page = browser.new_page()
        page.goto(file.as_uri())
        page.evaluate(_TICK)
        start = time.perf_counter()
        page.set_input_files("#folder", pack)
        page.wait_for_selector("body[data-state=done]", timeout=1_800_000)
        seconds = time.perf_counter() - start
        return ByPage(
            page.inner_text("#verdict"),
            seconds,
            page.evaluate("window.gap") / 1000,
            page.evaluate("performance.memory.usedJSHeapSize") / 1e6,
        )
