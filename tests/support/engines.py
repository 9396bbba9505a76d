"""WebKitGTK and Firefox, each by its own remote control, where Debian's packages are there; nothing is downloaded."""

import json
import os
import shutil
import socket
import subprocess
import time
from pathlib import Path
from typing import Any

import httpx
from support.live import free_port

QUIET: dict[str, Any] = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
START_LIMIT_S = 60.0


def mini_browser() -> Path | None:
    """Find the browser that WebKitGTK's driver drives."""
    return next(iter(sorted(Path("/usr/lib").glob("*/webkit2gtk-4.*/MiniBrowser"))), None)


def lacks(name: str) -> str:
    """Say which package an engine lacks on this machine; nothing when it can be driven."""
    if name == "firefox":
        return "" if shutil.which("firefox-esr") else "firefox-esr"
    has_driver = mini_browser() is not None and shutil.which("WebKitWebDriver") is not None
    missing = {"webkit2gtk-driver": has_driver, "xvfb": shutil.which("Xvfb") is not None}
    return ", ".join(package for package, is_there in missing.items() if not is_there)


class Engine:
    """One browser window of an engine; close it when done. Commands are those of the W3C WebDriver recommendation."""

    def tell(self, command: str, body: dict[str, Any]) -> Any:
        """Send one command and return its value."""
        raise NotImplementedError

    def open(self, url: str) -> None:
        """Go to an address."""
        self.tell("Navigate", {"url": url})

    def resize(self, width_px: int, height_px: int) -> None:
        """Size the window, as far as the engine lets it."""
        self.tell("SetWindowRect", {"width": width_px, "height": height_px})

    def refresh(self) -> None:
        """Load the page again as a person does; what an engine's control calls a refresh may pass the worker by."""
        self.run("setTimeout(() => location.reload(), 0); window.isOld = true;")
        self.wait("return window.isOld !== true && document.readyState === 'complete'")

    def run(self, script: str) -> Any:
        """Run the body of a function in the page."""
        return self.tell("ExecuteScript", {"script": script, "args": []})

    def wait(self, script: str, *, limit_s: float = 45.0) -> Any:
        """Run it until it answers something true."""
        until = time.monotonic() + limit_s
        while time.monotonic() < until:
            found = self.run(script)
            if found:
                return found
            time.sleep(0.2)
        raise TimeoutError(script)

    def press(self, css: str, *, held_ms: int = 90) -> None:
        """Press the pointer on the middle of an element as long as a thumb would."""
        x, y = self.run(f"""
          const box = document.querySelector({json.dumps(css)}).getBoundingClientRect();
          return [Math.round(box.left + box.width / 2), Math.round(box.top + box.height / 2)];
        """)
        acts = [
            {"type": "pointerMove", "duration": 0, "origin": "viewport", "x": x, "y": y},
            {"type": "pointerDown", "button": 0}, {"type": "pause", "duration": held_ms},
            {"type": "pointerUp", "button": 0},
        ]
        pointer = {"type": "pointer", "id": "thumb", "parameters": {"pointerType": "mouse"}, "actions": acts}
        self.tell("PerformActions", {"actions": [pointer]})

    def close(self) -> None:
        """End the browser and what it needed."""
        raise NotImplementedError


PATHS = {
    "Navigate": "/url", "SetWindowRect": "/window/rect", "ExecuteScript": "/execute/sync", "PerformActions": "/actions",
}


class WebKit(Engine):
    """WebKitGTK's small browser, on a display of its own."""

    def __init__(self, home: Path):
        display = f":{100 + os.getpid() % 800}"
        self.display = subprocess.Popen(["Xvfb", display, "-screen", "0", "1280x1024x24"], **QUIET)
        port = free_port()
        environment = {
            **os.environ, "DISPLAY": display, "XDG_DATA_HOME": str(home), "XDG_CACHE_HOME": str(home),
            "WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS": "1", "LANGUAGE": "en", "LC_ALL": "C.UTF-8",
        }
        self.driver = subprocess.Popen(["WebKitWebDriver", f"--port={port}"], env=environment, **QUIET)
        self.http = httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=90)
        options = {"binary": str(mini_browser()), "args": ["--automation"]}
        self.session = self._begun({"capabilities": {"alwaysMatch": {"webkitgtk:browserOptions": options}}})

    def _begun(self, wanted: dict[str, Any]) -> str:
        until = time.monotonic() + START_LIMIT_S
        while True:
            try:
                answer = self.http.post("/session", json=wanted)
            except httpx.ConnectError:
                if time.monotonic() > until:
                    raise
                time.sleep(0.1)
            else:
                return f"/session/{answer.json()['value']['sessionId']}"

    def tell(self, command: str, body: dict[str, Any]) -> Any:
        """Send one command over HTTP."""
        answer = self.http.post(self.session + PATHS[command], json=body)
        assert answer.status_code == 200, answer.text
        return answer.json()["value"]

    def close(self) -> None:
        """End browser, driver and display."""
        self.http.delete(self.session)
        self.http.close()
        for process in (self.driver, self.display):
            process.terminate()
            process.wait(timeout=20)


class Firefox(Engine):
    """Debian's Firefox by Marionette, its own control: messages of JSON behind their length, over a local socket."""

    def __init__(self, home: Path):
        port = free_port()
        home.mkdir(exist_ok=True)
        settings = {"marionette.port": port, "intl.accept_languages": "en-GB, en"}
        lines = [f"user_pref({json.dumps(name)}, {json.dumps(value)});" for name, value in settings.items()]
        (home / "user.js").write_text("\n".join(lines), encoding="utf-8")
        command = ["firefox-esr", "--headless", "--no-remote", "--marionette", "--profile", str(home)]
        self.browser = subprocess.Popen(command, env={**os.environ, "HOME": str(home)}, **QUIET)
        self.socket = self._connected(port)
        self.n = 0
        self._read()
        self.tell("NewSession", {})

    def _connected(self, port: int) -> socket.socket:
        until = time.monotonic() + START_LIMIT_S
        while True:
            try:
                return socket.create_connection(("127.0.0.1", port), timeout=90)
            except ConnectionRefusedError:
                if time.monotonic() > until:
                    raise
                time.sleep(0.2)

    def _read(self) -> Any:
        length = b""
        while not length.endswith(b":"):
            length += self.socket.recv(1)
        wanted, got = int(length[:-1]), b""
        while len(got) < wanted:
            got += self.socket.recv(wanted - len(got))
        return json.loads(got)

    def tell(self, command: str, body: dict[str, Any]) -> Any:
        """Send one command over the socket."""
        self.n += 1
        message = json.dumps([0, self.n, f"WebDriver:{command}", body]).encode()
        self.socket.sendall(f"{len(message)}:".encode() + message)
        _, _, problem, value = self._read()
        assert problem is None, problem
        return value.get("value") if isinstance(value, dict) else value

    def close(self) -> None:
        """End the browser."""
        self.socket.close()
        self.browser.terminate()
        self.browser.wait(timeout=20)


ENGINES = {"webkit": WebKit, "firefox": Firefox}
