"""A float says its unit as the last word of its name."""

import ast
import re

import pytest
from house.tree import ENGINE, PACKAGE, files, public_functions, tree

UNITS = [
    "factor", "kg", "mg", "g", "ul", "ml", "l", "l_per_h", "l_per_kg", "mmol", "mmol_per_l", "mg_per_l", "g_per_l",
    "g_per_h",
    "mg_per_h", "g_per_min", "mosm", "mosm_per_kg", "mosm_per_l", "c", "k", "k_per_km", "kpa", "pa", "hpa", "w",
    "w_per_kg", "w_per_m2", "kj", "kcal", "j", "m", "km", "m2", "cm", "cm2", "m_per_s", "km_per_h", "h", "min", "s",
    "ms", "day", "days", "deg", "frac", "log", "years", "age_years", "mv_per_decade", "kg_per_m3",
    "mg_per_cm2_per_min", "mg_per_cm2_min", "met", "clo", "per_k", "per_day", "per_h", "per_l", "l_per_min",
    "ml_per_h", "log_sd", "log_variance", "log_mean", "m2_k_per_w", "w_per_m2_k", "w_per_m2_kpa", "g_per_m2_h",
    "j_per_g", "hex", "unix_s", "g_per_mol", "mmol_per_h", "ml_per_kg", "kg_m2", "kg_per_l", "kcal_per_kg", "l2",
    "kg2", "mmol2_per_l2", "sd", "rate_mg_per_cm2_min", "gcm2", "n", "z", "u", "k4", "w_per_m2_k4",
]
SUFFIX = re.compile(r"(^|_)(" + "|".join(sorted(UNITS, key=len, reverse=True)) + r")$")
COUNTS = re.compile(r"^(n|is|has|one_in|mean|sd)(_|$)")
PLAIN = {
    "near", "value", "typed", "otherwise", "before", "after", "limit", "low", "high", "version", "z", "gain",
    "exponent", "last_residual",
    "factor_before", "factor_after", "sweat_factor_median", "food_units_per_salty_bottle",
}


def _public_names(module):
    """Yield fields and the arguments of public functions; inside a private helper a short name may do."""
    for node in ast.walk(module):
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            yield node, node.target.id
        elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            arguments = node.args
            for argument in [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]:
                if argument.annotation is not None:
                    yield argument, argument.arg


def _float_names():
    places = files(ENGINE, ".py") + files(PACKAGE / "records", ".py")
    for path in places:
        if path.name in {"errors.py", "validity.py"} or "sources" in path.parts:
            continue
        for node, name in _public_names(tree(path)):
            annotation = ast.unparse(node.annotation)
            if annotation in {"float", "Floats", "float | None", "FloatArray", "list[float]", "tuple[float, ...]"}:
                yield f"{path.relative_to(PACKAGE)}:{node.lineno}", name.lower().lstrip("_")


def test_every_float_name_ends_in_a_unit():
    nameless = [
        f"{place} {name}" for place, name in _float_names()
        if not SUFFIX.search(name) and not COUNTS.match(name) and name not in PLAIN
    ]

    assert nameless == []


PROGRAMME = ("layout", "limits_", "freeing", "programme", "search")
"""Parts of one mixed-integer programme: their source stands at the plan they make."""


@pytest.mark.parametrize("path", files(ENGINE, ".py"), ids=lambda path: str(path.relative_to(ENGINE)))
def test_every_public_engine_function_has_a_docstring_with_units_and_source(path):
    if path.name in {"errors.py", "validity.py", "__init__.py"}:
        pytest.skip("no formulas here")

    for function in public_functions(path):
        text = ast.get_docstring(function) or ""
        assert "Returns" in text, f"{function.name} does not say what it returns"
        if function.args.args or function.args.kwonlyargs:
            assert "Parameters" in text, f"{function.name} does not list its parameters"
        for argument in [*function.args.args, *function.args.kwonlyargs]:
            assert re.search(rf"^(\w+, )*{argument.arg}\b.*:", text, re.MULTILINE), (
                f"{function.name} does not describe {argument.arg}")
        if not path.name.startswith(PROGRAMME):
            assert "References" in text, f"{function.name} names no source"
