"""Shared by the house tests: where code stands, and its syntax trees."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "server" / "brinebook"
ENGINE = PACKAGE / "engine"
SKIPPED = {"generated", "node_modules", "dist", ".venv", ".git", ".demo", "__pycache__", ".hypothesis", "migrations"}


def files(top: Path, *suffixes: str) -> list[Path]:
    """List the project's own files below ``top`` with one of the suffixes."""
    found = (path for path in top.rglob("*") if path.suffix in suffixes and path.is_file())
    return sorted(path for path in found if not SKIPPED & set(path.relative_to(ROOT).parts))


@cache
def tree(path: Path) -> ast.Module:
    """Parse one Python file."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def public_functions(path: Path) -> Iterator[ast.FunctionDef]:
    """Yield the public top-level functions of a module."""
    for node in tree(path).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node
