"""Debian's Chromium without a window, by its DevTools protocol over a pipe: no library, no network.

`tests/run` installs it where it may. Messages are JSON, each ended by a zero byte (file descriptor 3 is
read by the browser, 4 is written).
"""

from __future__ import annotations

import base64
import fcntl
import json
import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any


def binary() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser")


class Browser:
    """One page at a time. `problems`: what the page under test reported: console errors, exceptions, requests."""

    def __init__(self) -> None:
        found = binary()
        assert found is not None
        self._profile = tempfile.mkdtemp(prefix="bench-chromium-")
        # Above 10: 3 and 4 are the child's, and a number that is copied onto itself would be closed on its start.
        to_read, self._out, self._in, to_write = (
            fcntl.fcntl(one, fcntl.F_DUPFD_CLOEXEC, 10) for one in (*os.pipe(), *os.pipe())
        )

        def descriptors() -> None:
            os.dup2(to_read, 3)
            os.dup2(to_write, 4)

        self._process = subprocess.Popen(
            [
                found, "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
                "--hide-scrollbars", "--remote-debugging-pipe", f"--user-data-dir={self._profile}", "about:blank",
            ],
            preexec_fn=descriptors, close_fds=False, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(to_read)
        os.close(to_write)
        self._rest, self._number, self._session = b"", 0, ""
        self.problems: list[str] = []
        self._loaded = False
        targets = self._call("Target.getTargets")["targetInfos"]
        page = next(one for one in targets if one["type"] == "page")
        self._session = self._call("Target.attachToTarget", targetId=page["targetId"], flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self._call(f"{domain}.enable")

    def _message(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            chunk = os.read(self._in, 1 << 20)
            if not chunk:
                raise RuntimeError("the browser ended")
            self._rest += chunk
        raw, _, self._rest = self._rest.partition(b"\0")
        return dict(json.loads(raw))

    def _call(self, method: str, **params: Any) -> dict[str, Any]:
        self._number += 1
        number = self._number
        body = {"id": number, "method": method, "params": params}
        if self._session:
            body["sessionId"] = self._session
        raw = memoryview(json.dumps(body).encode() + b"\0")
        while raw:
            raw = raw[os.write(self._out, raw) :]
        while True:
            message = self._message()
            if message.get("id") == number:
                if "error" in message:
                    raise RuntimeError(f"{method}: {message['error']}")
                return dict(message["result"])
            self._event(message)

    def _event(self, message: dict[str, Any]) -> None:
        method, params = message.get("method", ""), message.get("params", {})
        if method == "Page.loadEventFired":
            self._loaded = True
        elif method == "Runtime.exceptionThrown":
            self.problems.append(f"exception: {params['exceptionDetails']['text']}")
        elif method == "Runtime.consoleAPICalled" and params["type"] in ("error", "warning", "assert"):
            self.problems.append(f"console: {params['args']}")
        elif method == "Log.entryAdded" and params["entry"]["level"] in ("error", "warning"):
            self.problems.append(f"log: {params['entry']['text']}")
        elif method == "Network.requestWillBeSent":
            url = params["request"]["url"]
            if not url.startswith("data:") and params.get("type") != "Document":
                self.problems.append(f"request: {url}")

    def open(self, path: Path, width: int = 1000, height: int = 800) -> None:
        """Opens a file at that width; `problems` begins anew."""
        self._call(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 500
        )
        self.problems, self._loaded = [], False
        self._call("Page.navigate", url=path.resolve().as_uri())
        while not self._loaded:
            self._event(self._message())

    def run(self, script: str) -> Any:
        """The value of an expression in the page; a promise is waited for."""
        found = self._call("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in found:
            raise RuntimeError(str(found["exceptionDetails"]))
        return found["result"].get("value")

    def picture(self, out: Path) -> None:
        """The whole page as PNG."""
        found = self._call("Page.captureScreenshot", format="png", captureBeyondViewport=True)
        out.write_bytes(base64.b64decode(found["data"]))

    def paper(self, out: Path, width_in: float = 8.27, height_in: float = 11.69) -> None:
        """The printed page as PDF: A4, or of another size."""
        size = {"paperWidth": width_in, "paperHeight": height_in}
        found = self._call("Page.printToPDF", **size, preferCSSPageSize=False, printBackground=False)
        out.write_bytes(base64.b64decode(found["data"]))

    def close(self) -> None:
        self._process.kill()
        self._process.wait()
        os.close(self._out)
        os.close(self._in)
        shutil.rmtree(self._profile, ignore_errors=True)
