"""Checks that cannot fail are worse than none: the forms that slip through are forbidden."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TREES = {
    path: ast.parse(path.read_text("utf-8")) for top in ("tests", "benchmarks") for path in (ROOT / top).rglob("*.py")
}


def harmless_statements(tree: ast.AST) -> list[int]:
    """Lines where np.allclose and its like stand as a bare statement, so that their answer is thrown away."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
            function = node.value.func
            name = function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
            if name in {"allclose", "array_equal", "isclose"}:
                found.append(node.lineno)
    return found


def swallowed_assertions(tree: ast.AST) -> list[int]:
    """Lines where an AssertionError is caught."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.ExceptHandler) and node.type is not None:
            names = {child.id for child in ast.walk(node.type) if isinstance(child, ast.Name)}
            if "AssertionError" in names or "BaseException" in names:
                found.append(node.lineno)
    return found


@pytest.mark.parametrize("path", sorted(TREES), ids=lambda path: str(path.relative_to(ROOT)))
def test_no_check_is_thrown_away(path: Path) -> None:
    assert harmless_statements(TREES[path]) == []
    assert swallowed_assertions(TREES[path]) == []


def test_the_finders_find() -> None:
    assert harmless_statements(ast.parse("np.allclose(a, b)")) == [1]
    assert swallowed_assertions(ast.parse("try:\n  x\nexcept AssertionError:\n  pass")) == [3]


def test_every_source_says_its_kind() -> None:
    for path, tree in TREES.items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "source":
                kinds = [k.value for k in node.keywords if k.arg == "kind"]
                where = f"{path}:{node.lineno}"
                assert kinds, where
                assert isinstance(kinds[0], ast.Constant), where
                assert kinds[0].value in {"published", "library", "practice", "memory"}, where
