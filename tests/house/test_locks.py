"""What is installed is what the locks name, by its bytes; nothing runs at installation; licences are known ones."""

import itertools
import json
import re
from importlib import metadata

import pytest
from house.tree import ROOT
from packaging.requirements import Requirement

REQUIREMENT = re.compile(r"^([a-z0-9.-]+)(?:\[[a-z,-]+\])?==(\S+?)(?: ;[^\\]+)? \\$")
HASH = re.compile(r"^    --hash=sha256:[0-9a-f]{64}(?: \\)?$")
OF_THE_VENV = {"pip", "setuptools"}
"""Python's own ``venv`` brings them."""
REGISTRY = "https://registry.npmjs.org/"
RUN_AT_INSTALLATION = {"fsevents"}
"""npm packages with an install script: a watcher that macOS alone installs."""
SHIPPED_LICENCES = {"MIT", "ISC", "Apache-2.0", "OFL-1.1"}
LICENCES = re.compile(
    r"^(?:(?:MIT(?:-0|-CMU)?|BSD(?:-[23]-Clause)?|Apache(?:-2\.0)?|0BSD|Zlib|CC0-1\.0|ISC|PSF-2\.0|MPL-2\.0"
    r"|Mozilla Public License 2\.0 \(MPL 2\.0\)|Python Software Foundation)"
    r"(?: Software)?(?: License)?(?:, Version 2\.0)?(?: AND | OR |; )?)+$",
)
BY_NAME = {
    "psycopg": "LGPL-3.0-only", "psycopg-binary": "LGPL-3.0-only", "psycopg-pool": "LGPL-3.0-only",
    "pyphen": "GNU General Public License v2 or later (GPLv2+); GNU Lesser General Public License v2 or later "
              "(LGPLv2+); Mozilla Public License 1.1 (MPL 1.1)",
}
"""Used as they come, never changed and never part of what phones get; Pyphen offers three licences to choose from."""


def normal(name):
    return re.sub(r"[-_.]+", "-", name).lower()


def pinned():
    return [line for line in (ROOT / "requirements.lock").read_text().splitlines() if not line.startswith("    ")]


def locked():
    packages = json.loads((ROOT / "pwa" / "package-lock.json").read_text())["packages"]
    return {path: one for path, one in packages.items() if path != ""}


def test_every_python_package_is_pinned_to_a_version_and_to_bytes():
    lines = (ROOT / "requirements.lock").read_text().splitlines()

    assert len(pinned()) > 100
    assert [line for line in lines if not REQUIREMENT.match(line) and not HASH.match(line)] == []
    assert all(HASH.match(after) for line, after in itertools.pairwise(lines) if REQUIREMENT.match(line))


def test_nothing_is_installed_that_the_lock_does_not_name():
    allowed = {}
    for line in pinned():
        name, version = REQUIREMENT.match(line).groups()
        allowed.setdefault(normal(name), set()).add(version)
    installed = {normal(one.metadata["Name"]): one.version for one in metadata.distributions()}
    stray = {name: version for name, version in installed.items() if version not in allowed.get(name, set())}

    assert len(installed) > 100
    assert set(stray) <= OF_THE_VENV


def test_every_npm_package_is_pinned_to_bytes_of_the_registry_and_runs_nothing():
    packages = locked()

    assert len(packages) > 200
    assert [path for path, one in packages.items() if not one.get("integrity", "").startswith("sha512-")] == []
    assert [path for path, one in packages.items() if not one.get("resolved", REGISTRY).startswith(REGISTRY)] == []
    assert [path for path, one in packages.items() if one.get("link")] == []
    with_scripts = {path.rsplit("node_modules/", 1)[1] for path, one in packages.items() if one.get("hasInstallScript")}
    assert with_scripts <= RUN_AT_INSTALLATION


def test_node_modules_hold_what_the_lock_names():
    packages = locked()
    stray = []
    for manifest in (ROOT / "pwa" / "node_modules").rglob("package.json"):
        path = manifest.parent.relative_to(ROOT / "pwa").as_posix()
        if not re.search(r"node_modules/(?:@[^/]+/)?[^/@]+$", path):
            continue
        told = json.loads(manifest.read_text())
        if packages.get(path, {}).get("version") != told.get("version"):
            stray.append((path, told.get("version")))

    assert stray == []


def test_what_phones_get_has_a_licence_we_know():
    shipped = {
        path: one.get("license") for path, one in locked().items() if not one.get("dev") and not one.get("optional")
    }

    assert len(shipped) >= 7
    assert {path: told for path, told in shipped.items() if told not in SHIPPED_LICENCES} == {}


def _needed():
    """Follow what the server needs, whatever extras it is installed with; what only tests need is left out."""
    waiting = [Requirement(one) for one in metadata_of_project()]
    seen = {}
    while waiting:
        wanted = waiting.pop()
        key = normal(wanted.name), frozenset(wanted.extras)
        if key in seen:
            continue
        found = metadata.distribution(wanted.name)
        seen[key] = found.metadata
        for text in found.requires or []:
            one = Requirement(text)
            if one.marker is None or any(one.marker.evaluate({"extra": extra}) for extra in {*wanted.extras, ""}):
                waiting.append(one)
    return {name: told for (name, _), told in seen.items()}


def metadata_of_project():
    tomllib = pytest.importorskip("tomllib")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return [*project["dependencies"], *(one for extra in project["optional-dependencies"].values() for one in extra)]


def _licence(told):
    classed = [one.rsplit(" :: ", 1)[1] for one in told.get_all("Classifier", []) if one.startswith("License ::")]
    return told.get("License-Expression") or "; ".join(classed) or (told.get("License") or "").split("\n")[0]


def test_what_the_server_needs_has_a_licence_we_know():
    needed = _needed()
    unknown = {
        name: _licence(told) for name, told in needed.items()
        if not LICENCES.match(_licence(told)) and BY_NAME.get(name) != _licence(told)
    }

    assert len(needed) > 50
    assert unknown == {}
