"""Nothing public of the scoring exists for its tests alone: what no running code calls is no part of the product."""

import ast
from collections.abc import Iterator
from pathlib import Path

import sequencer.judging

JUDGING = Path(sequencer.judging.__file__).parent

Definition = ast.FunctionDef | ast.ClassDef


def _definitions(module: ast.Module) -> Iterator[Definition]:
    """Public functions and classes of a module, and the methods and properties of these classes."""
    for node in module.body:
        if isinstance(node, Definition):
            yield node
            if isinstance(node, ast.ClassDef):
                yield from (each for each in node.body if isinstance(each, ast.FunctionDef))


def _used(tree: ast.AST, own: str = "") -> Iterator[str]:
    """Names that code refers to, but for those that a definition makes of itself."""
    for node in ast.iter_child_nodes(tree):
        inside = node.name if isinstance(node, Definition) else own
        if isinstance(node, ast.Name | ast.Attribute):
            name = node.id if isinstance(node, ast.Name) else node.attr
            if name != own:
                yield name
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value != own:
            # A quoted annotation, or a name by which an attribute is fetched.
            yield node.value
        yield from _used(node, inside)


def test_every_public_function_of_the_scoring_runs_in_the_product() -> None:
    package = JUDGING.parent
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in package.rglob("*.py")}
    used = {name for tree in trees.values() for name in _used(tree)}
    public = {
        node.name
        for path, tree in trees.items()
        if path.parent == JUDGING
        for node in _definitions(tree)
        if not node.name.startswith("_")
    }
    assert len(public) > 100
    assert public - used == set()
