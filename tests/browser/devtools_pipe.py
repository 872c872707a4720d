"""Drive a headless Chromium over its debugging pipe; standard library only.

The protocol is the Chrome DevTools Protocol, messages of JSON ended by a NUL
byte on file descriptors 3 and 4.
"""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any

_LIMIT = 60.0  # seconds that any one answer may take

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)


def find_chromium() -> str | None:
    """Find a Chromium on the path, or None."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        found = shutil.which(name)
        if found:
            return found
    return None


class Browser:
    """One Chromium with one page."""

    def __init__(self, program: str, profile: Path) -> None:
        to_browser, self._write = os.pipe()
        self._read, from_browser = os.pipe()
        arguments = [program, *FLAGS, f"--user-data-dir={profile}", "about:blank"]
        # descriptors 3 and 4 are fixed by the protocol; the shell moves ours there
        moved = f'exec "$0" "$@" 3<&{to_browser} 4>&{from_browser}'
        self._process = subprocess.Popen(
            ["/bin/bash", "-c", moved, *arguments],
            pass_fds=(to_browser, from_browser),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_browser)
        os.close(from_browser)
        self._buffer = b""
        self._number = 0
        self.events: list[dict[str, Any]] = []
        self._session: str | None = None
        targets = self.call("Target.getTargets")["targetInfos"]
        page = next(target for target in targets if target["type"] == "page")
        attached = self.call(
            "Target.attachToTarget", targetId=page["targetId"], flatten=True
        )
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Send a command and wait for its answer; events are kept."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._write, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                result: dict[str, Any] = answer["result"]
                return result
            self.events.append(answer)

    def _next(self) -> dict[str, Any]:
        """Read one message."""
        deadline = time.monotonic() + _LIMIT
        while b"\0" not in self._buffer:
            left = deadline - time.monotonic()
            ready, _, _ = select.select([self._read], [], [], max(left, 0))
            if not ready:
                raise TimeoutError("Chromium did not answer")
            chunk = os.read(self._read, 1 << 20)
            if not chunk:
                raise RuntimeError("Chromium ended")
            self._buffer += chunk
        raw, _, self._buffer = self._buffer.partition(b"\0")
        message: dict[str, Any] = json.loads(raw)
        return message

    def open(
        self,
        page: Path,
        *,
        width: int = 1280,
        height: int = 900,
        scripts: bool = True,
        dark: bool = False,
    ) -> None:
        """Open a file in a window of that size, in CSS pixels, and wait for it."""
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=width < 700,
        )
        self.call("Emulation.setScriptExecutionDisabled", value=not scripts)
        scheme = "dark" if dark else "light"
        self.call(
            "Emulation.setEmulatedMedia",
            features=[{"name": "prefers-color-scheme", "value": scheme}],
        )
        self.events.clear()
        self.call("Page.navigate", url=page.resolve().as_uri())
        self._wait_for_load()
        if scripts:
            self.wait("!window.vegaEmbed||document.documentElement.dataset.charts")

    def _wait_for_load(self) -> None:
        while not any(e.get("method") == "Page.loadEventFired" for e in self.events):
            self.events.append(self._next())

    def wait(self, condition: str) -> None:
        """Ask until the JavaScript condition holds."""
        deadline = time.monotonic() + _LIMIT
        while not self.value(f"Boolean({condition})"):
            if time.monotonic() > deadline:
                raise TimeoutError(condition)
            # the page works meanwhile; asking faster only slows it down
            select.select([], [], [], 0.05)

    def value(self, expression: str) -> Any:
        """Evaluate JavaScript in the page, also where its own scripts are off."""
        answer = self.call(
            "Runtime.evaluate", expression=expression, returnByValue=True
        )
        if "exceptionDetails" in answer:
            raise RuntimeError(answer["exceptionDetails"])
        return answer["result"].get("value")

    def requests(self) -> list[str]:
        """Return the address of each request since the page was opened."""
        return [
            event["params"]["request"]["url"]
            for event in self.events
            if event.get("method") == "Network.requestWillBeSent"
        ]

    def complaints(self) -> list[str]:
        """Return console errors, warnings, exceptions and policy breaches."""
        found = []
        for event in self.events:
            parameters = event.get("params", {})
            if event.get("method") == "Runtime.exceptionThrown":
                found.append(str(parameters["exceptionDetails"]))
            elif event.get("method") == "Log.entryAdded":
                found.append(str(parameters["entry"]))
            elif event.get("method") == "Runtime.consoleAPICalled" and parameters[
                "type"
            ] in (
                "error",
                "warning",
                "assert",
            ):
                found.append(str(parameters["args"]))
        return found

    def screenshot(self, path: Path, *, whole: bool = True) -> None:
        """Save a picture of the window, or of the whole page."""
        answer = self.call("Page.captureScreenshot", captureBeyondViewport=whole)
        if whole:
            size = self.call("Page.getLayoutMetrics")["cssContentSize"]
            clip = {"x": 0, "y": 0, "scale": 1}
            clip |= {"width": size["width"], "height": size["height"]}
            answer = self.call(
                "Page.captureScreenshot", captureBeyondViewport=True, clip=clip
            )
        path.write_bytes(base64.b64decode(answer["data"]))

    def pdf(self, path: Path, *, letter: bool = False) -> None:
        """Print to PDF on A4, or on Letter."""
        width, height = (8.5, 11.0) if letter else (8.27, 11.69)
        answer = self.call(
            "Page.printToPDF",
            paperWidth=width,
            paperHeight=height,
            preferCSSPageSize=False,
            printBackground=False,
        )
        path.write_bytes(base64.b64decode(answer["data"]))

    def close(self) -> None:
        """End this Chromium, and no other."""
        try:
            self._session = None
            self.call("Browser.close")
        except (RuntimeError, TimeoutError, OSError):
            self._process.kill()
        finally:
            self._process.wait(timeout=20)
            os.close(self._read)
            os.close(self._write)
