"""The running table is here to test other code with."""

import ast

from brinebook.engine.plan.running_table import running_sweat_l_per_h
from house.tree import PACKAGE, files


def test_no_model_predicts_with_the_running_table():
    importers = [
        path.name for path in files(PACKAGE, ".py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and (node.module or "").endswith("running_table")
    ]

    assert importers == []
    assert running_sweat_l_per_h(70.0, speed_km_per_h=12.0, is_warm=True) > 0.0
