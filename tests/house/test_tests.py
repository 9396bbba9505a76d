"""A test is a claim with a check: one that cannot fail is no test."""

import ast

from house.tree import ROOT, files, tree

CHECKING_CALLS = ("assert", "check", "expect", "raises", "fail", "require", "run_state_machine", "must")


def _checks(function: ast.AST) -> bool:
    for node in ast.walk(function):
        if isinstance(node, (ast.Assert, ast.Raise)):
            return True
        if isinstance(node, ast.Call):
            name = ast.unparse(node.func).rsplit(".", 1)[-1].lstrip("_")
            if name.startswith(CHECKING_CALLS):
                return True
    return False


def test_every_test_checks_something():
    empty = [
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"
        for path in files(ROOT / "tests", ".py")
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and node.name.startswith("test_")
        and not _checks(node)
    ]

    assert empty == []


def test_no_test_drops_the_answer_of_a_comparison():
    dropped = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in files(ROOT / "tests", ".py")
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
        and ast.unparse(node.value.func).endswith(("allclose", "isclose"))
        and not ast.unparse(node.value.func).endswith("assert_allclose")
    ]

    assert dropped == []
