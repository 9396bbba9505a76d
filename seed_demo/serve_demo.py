"""Runs inside .venv: starts the server, seeds it over HTTP, prints the links or the play's JSON."""

import argparse
import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from brinebook import clock

from seed_demo.bootstrap import ROOT, say
from seed_demo.load import seed
from seed_demo.play import play
from seed_demo.race import FIRST_DAY, FIRST_DAY_VARIABLE, LAST_DAY_INDEX, TIME_ZONE, first_day

START_LIMIT_S = 60.0
FIRST_DAY_FILE, TOKEN_FILE = "first-day", "seed-token"
ADMIN_NAME = "Iris Vantongel"


class DemoProblem(Exception):
    """The demo cannot start; the message says what a person can do."""


def _is_port_free(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) != 0


def _wait_until_healthy(base_url: str, server: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + START_LIMIT_S
    while time.monotonic() < until:
        if server.poll() is not None:
            raise DemoProblem(f"the server stopped while starting (exit {server.returncode}); its last lines are above")
        try:
            with urllib.request.urlopen(f"{base_url}/api/health", timeout=2) as answer:
                if answer.status == 200:
                    return
        except (urllib.error.URLError, OSError):
            time.sleep(0.2)
    raise DemoProblem(f"the server did not answer on {base_url} within {START_LIMIT_S:.0f} s; try --fresh")


def start_server(*, data: Path, dist: Path, port: int) -> subprocess.Popen[bytes]:
    """Migrate the database file and start the server on a loopback port."""
    if not _is_port_free(port):
        raise DemoProblem(f"port {port} is in use. Stop what runs there, or choose another: --port {port + 1}")
    data.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "-m", "brinebook", "serve", "--data", str(data), "--dist", str(dist)]
    # Standard output is for results alone; whatever the server or its solver print goes to standard error.
    server = subprocess.Popen([*command, "--port", str(port)], cwd=ROOT, stdout=sys.stderr)
    try:
        _wait_until_healthy(f"http://localhost:{port}", server)
    except DemoProblem:
        server.terminate()
        raise
    return server


def _join(base_url: str, secret: str) -> str:
    body = json.dumps({"secret": secret, "device_name": "seed", "device_key": secret[:16]}).encode()
    request = urllib.request.Request(f"{base_url}/api/join", data=body, headers={"Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=30) as answer:
        return str(json.loads(answer.read())["token"])


def admin_token(base_url: str, data: Path) -> str:
    """Read the seeding device's token, or make the first admin and join as one."""
    kept = data / TOKEN_FILE
    if kept.exists():
        return kept.read_text().strip()
    made = subprocess.run(
        [
            sys.executable, "-m", "brinebook", "invite", "--data", str(data), "--role", "admin", "--name", ADMIN_NAME,
            "--team-name", "Halden Vale", "--race-name", "Three Rivers Tour",
        ],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )
    if made.returncode != 0:
        raise DemoProblem(f"could not invite the first admin: {made.stderr.strip()}")
    link = next(word for word in made.stdout.split() if "#/join/" in word)
    token = _join(base_url, link.rsplit("/", 1)[1])
    kept.touch(mode=0o600)
    kept.write_text(token)
    return token


def lay_race(data: Path, *, now_ms: int, is_today: bool, is_play: bool) -> None:
    """Lay the race where this folder has it; a new folder's on the fixed days, or around today where that is asked.

    Today is then the day of the first stage, or after a play the day after the last.
    """
    kept = data / FIRST_DAY_FILE
    if kept.exists():
        os.environ[FIRST_DAY_VARIABLE] = kept.read_text().strip()
        return
    if not is_today:
        return
    if (data / TOKEN_FILE).exists():
        raise DemoProblem(f"the race in {data} lies in {first_day():%B %Y} already; to lay it anew: --today --fresh")
    today = datetime.fromtimestamp(now_ms / 1000, ZoneInfo(TIME_ZONE)).date()
    data.mkdir(parents=True, exist_ok=True)
    kept.write_text(str(today - timedelta(days=LAST_DAY_INDEX if is_play else 0)))
    os.environ[FIRST_DAY_VARIABLE] = kept.read_text()


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--dist", type=Path, required=True)
    for flag in ("--fresh", "--today", "--play", "--keep-serving", "--no-serve"):
        parser.add_argument(flag, action="store_true")
    return parser.parse_args()


def _print_links(base_url: str, links: dict[str, str], *, is_ridden: bool) -> None:
    print(f"\nBrinebook is on {base_url}  (Ctrl-C stops it; what was entered is kept)\nOne sign-in link per role:")
    for role, link in links.items():
        print(f"  {role:<14} {link}")
    first = first_day()
    last = first + timedelta(days=LAST_DAY_INDEX - 1)
    print(f"The race lies from {first.day} {first:%B} to {last.day} {last:%B %Y}.")
    print("Begin with the physiologist's link on a desk and the rider's on a phone.")
    if not is_ridden:
        elsewhere = "; --today --fresh lays the race around today" if first == FIRST_DAY else ""
        print(f"Nothing is ridden yet: --play rides all 21 stages first{elsewhere}.")
    print("Decision support for qualified staff: it diagnoses nothing. The team physician decides.", flush=True)


def _work(arguments: argparse.Namespace, base_url: str, server: subprocess.Popen[bytes]) -> None:
    token = admin_token(base_url, arguments.data)
    say("looking that the invented squad and race are in the books; a first start enters them, in half a minute")
    links = seed(base_url, token)
    if arguments.play:
        print(json.dumps(play(base_url, token), indent=1, sort_keys=True), flush=True)
        if not arguments.keep_serving:
            return
    _print_links(base_url, links, is_ridden=arguments.play)
    if not arguments.no_serve:
        server.wait()


def main() -> int:
    """Serve, seed, and play when asked."""
    arguments = _arguments()
    if arguments.fresh or arguments.play:
        shutil.rmtree(arguments.data, ignore_errors=True)
    try:
        lay_race(arguments.data, now_ms=clock.now_ms(), is_today=arguments.today, is_play=arguments.play)
        server = start_server(data=arguments.data, dist=arguments.dist, port=arguments.port)
    except DemoProblem as problem:
        say(str(problem))
        return 1
    try:
        _work(arguments, f"http://localhost:{arguments.port}", server)
    except DemoProblem as problem:
        say(str(problem))
        return 1
    except KeyboardInterrupt:
        say("stopped; what was entered is kept")
    finally:
        server.terminate()
        server.wait(timeout=20)
    return 0


if __name__ == "__main__":
    sys.exit(main())
