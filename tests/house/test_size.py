"""Files stay small enough to read: the cap is 400 lines."""

import statistics

from house.tree import ROOT, files

CAP_LINES = 400
GENERATED = {"package-lock.json"}


def _lengths():
    for top in ("server", "pwa", "tests", "seed_demo"):
        for path in files(ROOT / top, ".py", ".ts", ".tsx", ".css"):
            if path.name not in GENERATED:
                yield path, len(path.read_text(encoding="utf-8").splitlines())


def test_no_file_is_longer_than_the_cap():
    too_long = {str(path.relative_to(ROOT)): n for path, n in _lengths() if n > CAP_LINES}

    assert too_long == {}


def test_the_median_server_file_is_short():
    lengths = [n for path, n in _lengths() if "server" in path.parts and n > 2]

    assert statistics.median(lengths) <= 120
