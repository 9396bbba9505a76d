"""The proof: ``python3 tests/faults --minutes 10 --seed 1``. Non-zero when anything was lost, doubled or leaked."""

import argparse
import os
import signal
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BACKENDS = ("sqlite", "postgresql")


def _in_venv() -> None:
    """Run again with the project's own Python, made first when it is missing."""
    sys.path.insert(0, str(ROOT))
    from seed_demo.bootstrap import prepare, venv_python

    if Path(sys.prefix).resolve() != (ROOT / ".venv").resolve():
        prepare()
        os.execv(venv_python(), [str(venv_python()), str(Path(__file__).parent), *sys.argv[1:]])  # noqa: S606


def main() -> int:
    """Run the faults on each store asked for; print a table each."""
    parser = argparse.ArgumentParser(prog="python3 tests/faults", description=__doc__)
    parser.add_argument("--minutes", type=float, default=1.0, help="how long, for all stores together")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--backend", choices=[*BACKENDS, "both"], default="both")
    arguments = parser.parse_args()
    _in_venv()
    # Told to stop, it still unmounts and kills what it started.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    sys.path.insert(0, str(ROOT / "tests"))
    from support.chaos.run import Plan, run
    from support.postgres import NoPostgres

    backends = BACKENDS if arguments.backend == "both" else (arguments.backend,)
    is_good = True
    for place, backend in enumerate(backends):
        seconds = 60 * arguments.minutes / len(backends)
        try:
            report = run(Plan(seconds=seconds, seed=arguments.seed + place, backend=backend))
        except NoPostgres as problem:
            print(f"{backend}: not run: {problem}")
            continue
        print("\n".join(report.lines()), end="\n\n", flush=True)
        is_good = is_good and report.is_good()
    return 0 if is_good else 1


if __name__ == "__main__":
    sys.exit(main())
