"""Sets up, seeds and serves the demo: ``python3 seed_demo``; with ``--play`` a simulated squad rides the race."""

import argparse
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from seed_demo.bootstrap import ROOT, SetupProblem, prepare, say, venv_python


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python3 seed_demo", description=__doc__)
    parser.add_argument("--port", type=int, default=8420, help="loopback port (default 8420)")
    parser.add_argument("--data", type=Path, default=None, help="data folder (default .demo/team, or .demo/play)")
    parser.add_argument("--fresh", action="store_true", help="throw the demo data away first")
    parser.add_argument("--today", action="store_true", help="lay a new race around today instead of July 2026")
    parser.add_argument("--play", action="store_true", help="ride the whole race against the live server, print JSON")
    parser.add_argument("--keep-serving", action="store_true", help="with --play: go on serving afterwards")
    parser.add_argument("--no-serve", action="store_true", help="set up and seed, then stop")
    return parser.parse_args()


def main() -> int:
    """Prepare the checkout with whatever Python runs this, then hand over to the one in .venv."""
    arguments = _arguments()
    try:
        dist = prepare()
    except SetupProblem as problem:
        say(str(problem))
        return 1
    data = arguments.data or ROOT / ".demo" / ("play" if arguments.play else "team")
    command = [str(venv_python()), "-m", "seed_demo.serve_demo", "--port", str(arguments.port), "--data", str(data)]
    command += ["--dist", str(dist)]
    for flag in ("fresh", "today", "play", "keep_serving", "no_serve"):
        if getattr(arguments, flag):
            command.append("--" + flag.replace("_", "-"))
    try:
        return subprocess.run(command, cwd=ROOT, check=False).returncode
    except KeyboardInterrupt:
        return 0


if __name__ == "__main__":
    sys.exit(main())
