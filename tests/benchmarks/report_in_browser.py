"""A report in a real browser without a network: ``python -m tests.benchmarks.report_in_browser``.

Writes the HTML report of the shipped passes given (by default three), opens it in a headless
Chromium that is told to be offline, and counts what the page asked for and what failed. Prints a
table; ends with status 1 if anything was asked of the network, is missing, or was said to the
console. With ``--pictures DIR`` it also keeps a screenshot and the browser's own print as PDF.

Needs ``chromium`` on the path (Debian: ``apt-get install chromium``).
"""

from __future__ import annotations

import argparse
import base64
import fcntl
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from console.app.report import write_report
from console.app.score import ScoreOrder, score_one
from console.archive.shipped import shipped

BROWSERS = ("chromium", "chromium-browser")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--no-first-run", "--hide-scrollbars", "--remote-debugging-pipe", "--window-size=1200,900",
)  # fmt: skip
START = (
    "import os, sys; os.dup2(int(sys.argv[1]), 3); os.dup2(int(sys.argv[2]), 4); "
    "os.execv(sys.argv[3], sys.argv[3:])"
)
PASSES = ("nominal_to_docked.leadmark", "late_braking.leadmark", "biased_backup.csv")
CREATED_S = 1_933_600_000.0
LOOK = """JSON.stringify({
    images: document.images.length,
    shown: [...document.images].filter(i => i.complete && i.naturalWidth > 0).length,
    wide: document.documentElement.scrollWidth > document.documentElement.clientWidth,
    tables: document.querySelectorAll("table").length,
    ids: document.querySelectorAll("[id]").length,
    unique: new Set([...document.querySelectorAll("[id]")].map(e => e.id)).size,
    height: document.documentElement.scrollHeight,
})"""


class Browser:
    """A headless browser spoken to over two pipes."""

    def __init__(self, program: str, profile: Path) -> None:
        near_in, self._out = os.pipe()
        self._in, near_out = os.pipe()
        # the browser reads from descriptor 3 and writes to 4
        far_in, far_out = (fcntl.fcntl(one, fcntl.F_DUPFD, 10) for one in (near_in, near_out))
        self._process = subprocess.Popen(
            [
                sys.executable, "-c", START, str(far_in), str(far_out),
                program, *FLAGS, f"--user-data-dir={profile}",
            ],
            pass_fds=(far_in, far_out), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        for one in (near_in, near_out, far_in, far_out):
            os.close(one)
        self._rest = b""
        self._count = 0
        self.heard: list[dict[str, Any]] = []

    def ask(self, method: str, session: str = "", **params: Any) -> dict[str, Any]:
        """Send a command and wait for its answer; what comes between is kept."""
        self._count += 1
        message: dict[str, Any] = {"id": self._count, "method": method, "params": params}
        if session:
            message["sessionId"] = session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while True:
            heard = self._next()
            if heard.get("id") == self._count:
                return heard.get("result", {})
            self.heard.append(heard)

    def wait_for(self, method: str) -> None:
        """Wait until something was told."""
        while not any(one.get("method") == method for one in self.heard):
            self.heard.append(self._next())

    def close(self) -> None:
        """End the browser."""
        self._process.terminate()
        self._process.wait(10.0)
        os.close(self._out)
        os.close(self._in)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            more = os.read(self._in, 1 << 20)
            if not more:
                raise RuntimeError("the browser went away")
            self._rest += more
        line, _, self._rest = self._rest.partition(b"\0")
        found: dict[str, Any] = json.loads(line)
        return found


def look_at(page: Path, pictures: Path | None, program: str) -> dict[str, Any]:
    """Open a page offline and tell what it asked for and what it shows."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        browser = Browser(program, Path(profile))
        try:
            target = browser.ask("Target.createTarget", url="about:blank")["targetId"]
            session = browser.ask("Target.attachToTarget", targetId=target, flatten=True)
            here = session["sessionId"]
            for domain in ("Page", "Network", "Runtime", "Log"):
                browser.ask(f"{domain}.enable", here)
            browser.ask(
                "Network.emulateNetworkConditions", here, offline=True, latency=0,
                downloadThroughput=0, uploadThroughput=0,
            )  # fmt: skip
            browser.ask("Page.navigate", here, url=page.as_uri())
            browser.wait_for("Page.loadEventFired")
            value = browser.ask("Runtime.evaluate", here, expression=LOOK)["result"]["value"]
            found: dict[str, Any] = json.loads(value)
            if pictures is not None:
                _keep(browser, here, pictures, page.stem)
            return found | _asked(browser.heard)
        finally:
            browser.close()


def _asked(heard: list[dict[str, Any]]) -> dict[str, Any]:
    sent = [
        one["params"]["request"]["url"]
        for one in heard
        if one.get("method") == "Network.requestWillBeSent"
    ]
    told = [
        one for one in heard if one.get("method") in ("Log.entryAdded", "Runtime.consoleAPICalled")
    ]
    failed = [one for one in heard if one.get("method") == "Network.loadingFailed"]
    return {
        "requests": len(sent),
        "outside": [url for url in sent if not url.startswith(("file:", "data:"))],
        "failed": len(failed),
        "said": len(told),
    }


def _keep(browser: Browser, session: str, pictures: Path, stem: str) -> None:
    pictures.mkdir(parents=True, exist_ok=True)
    shot = browser.ask("Page.captureScreenshot", session, captureBeyondViewport=True)
    (pictures / f"{stem}.png").write_bytes(base64.b64decode(shot["data"]))
    printed = browser.ask("Page.printToPDF", session, preferCSSPageSize=True)
    (pictures / f"{stem}-printed.pdf").write_bytes(base64.b64decode(printed["data"]))


def main() -> int:
    """Make the report, look at it, print what was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.report_in_browser")
    parser.add_argument("passes", nargs="*", default=PASSES)
    parser.add_argument("--pictures", type=Path)
    options = parser.parse_args()
    program = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if program is None:
        print("no chromium on the path; install it, or leave this check to where there is one")
        return 2
    folder = shipped("replay_data", "passes")
    results = [score_one(folder / name, ScoreOrder(wants_report=True)) for name in options.passes]
    debriefs = [result.debrief for result in results if result.debrief is not None]
    with tempfile.TemporaryDirectory() as place:
        page = Path(place) / "report.html"
        write_report(debriefs, page, CREATED_S)
        found = look_at(page, options.pictures, program)
        print(f"{page.stat().st_size / 1e6:.1f} MB, {len(debriefs)} passes")
    for name, value in found.items():
        print(f"{name:<10} {value}")
    is_well = (
        not found["outside"] and not found["failed"] and not found["said"] and not found["wide"]
        and found["images"] == found["shown"] > 0 and found["ids"] == found["unique"]
    )  # fmt: skip
    print("well" if is_well else "NOT well")
    return 0 if is_well else 1


if __name__ == "__main__":
    sys.exit(main())
