"""No code without a caller: every module, every statement and every name of the product serves some command."""

import ast
import re
from collections.abc import Iterable, Iterator
from fnmatch import fnmatch
from functools import cache
from pathlib import Path

from pipeline.cli import COMMANDS

ROOT = Path(__file__).parents[2]
FACES = ("pipeline.cli", "pipeline.notebook")
"""Where users come in: the command line, and a notebook."""


@cache
def modules() -> dict[str, ast.Module]:
    """Return every module of the product by its dotted name, parsed."""
    found = {}
    for package in ("pipeline", "reports"):
        for path in (ROOT / package).rglob("*.py"):
            parts = path.relative_to(ROOT).with_suffix("").parts
            name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
            found[name] = ast.parse(path.read_text(encoding="utf-8"))
    return found


def run(node: ast.AST) -> Iterator[ast.AST]:
    """Yield the nodes of a module that run, those of functions too: not what only a type checker reads."""
    if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
        return
    yield node
    for child in ast.iter_child_nodes(node):
        yield from run(child)


def imports_among(nodes: Iterable[ast.AST]) -> set[str]:
    """Return the dotted names that are imported: modules, and names in them."""
    found = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


@cache
def reached() -> set[str]:
    """Return the modules that the command line comes to, and the packages around them."""
    found: set[str] = set()
    ahead = {
        "pipeline.cli",
        "pipeline.notebook",
        *(f"pipeline.{folder}.command" for folder, _ in COMMANDS.values()),
    }
    while ahead:
        parts = ahead.pop().split(".")
        for name in (".".join(parts[:length]) for length in range(1, len(parts) + 1)):
            if name in modules() and name not in found:
                found.add(name)
                ahead |= imports_among(run(modules()[name]))
    return found


def test_every_module_is_reached_from_the_command_line() -> None:
    assert sorted(set(modules()) - reached()) == []


def test_tricks_of_start_up_stay_in_the_module_of_the_command_line() -> None:
    tricky = [
        name
        for name, tree in modules().items()
        if "gc" in imports_among(ast.walk(tree))
        or any(isinstance(node, ast.Attribute) and node.attr == "environ" for node in ast.walk(tree))
    ]
    assert tricky == ["pipeline.cli"]


def statements_of(tree: ast.Module) -> set[str]:
    """Return the patterns of the statements that a module loads: written out, filled in, or all of a folder."""
    words = {
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    found = {word for word in words if re.fullmatch(r"\w+/\w+", word)}
    for node in ast.walk(tree):
        match node:
            case ast.JoinedStr(values=[ast.Constant(value=str(start)), ast.FormattedValue()]):
                found |= {start + word for word in words}
            case ast.Call(
                func=ast.Attribute(value=ast.BinOp(right=ast.Constant(value=str(folder))), attr="glob"),
                args=[ast.Constant(value=str(files))],
            ):
                found.add(f"{folder}/{files.removesuffix('.sql')}")
    return found


def test_every_sql_statement_is_loaded_by_a_module() -> None:
    loaded = set().union(*(statements_of(modules()[name]) for name in reached()))
    files = sorted(
        path.relative_to(ROOT / "sql").with_suffix("").as_posix() for path in ROOT.glob("sql/*/*.sql")
    )
    assert files
    assert [file for file in files if not any(fnmatch(file, pattern) for pattern in loaded)] == []


def names_of(tree: ast.Module) -> Iterator[tuple[str, ast.stmt]]:
    """Yield the functions, classes and constants of a module, with the statement that makes each."""
    for node in tree.body:
        match node:
            case ast.FunctionDef(name=name) | ast.ClassDef(name=name):
                yield name, node
            case ast.Assign(targets=[ast.Name(id=name)]) | ast.AnnAssign(target=ast.Name(id=name)):
                yield name, node


@cache
def taken() -> set[str]:
    """Return the dotted names that some reached module takes from another, by import or as an attribute.

    A package that hands a name on does not take it: whoever imports it from there does.
    """
    found: set[str] = set()
    handed = {}
    packages = {name for name in reached() if any(other.startswith(f"{name}.") for other in modules())}
    for name in reached():
        for full in imports_among(ast.walk(modules()[name])):
            if name in packages:
                handed[f"{name}.{full.rpartition('.')[2]}"] = full
            elif full in modules():
                tree = ast.walk(modules()[name])
                found |= {f"{full}.{node.attr}" for node in tree if isinstance(node, ast.Attribute)}
            else:
                found.add(full)
    return found | {handed[name] for name in found if name in handed}


def is_read_at_home(name: str, made: ast.stmt, tree: ast.Module) -> bool:
    """Whether a module reads a name of its own outside the statement that makes it."""
    others = (node for one in tree.body if one is not made for node in ast.walk(one))
    return any(
        isinstance(node, ast.Name) and node.id == name and isinstance(node.ctx, ast.Load) for node in others
    )


def test_every_function_class_and_constant_is_used_by_the_product() -> None:
    started = {f"pipeline.{folder}.command.{name}" for folder, name in COMMANDS.values()}
    started |= {"pipeline.cli.main", "pipeline.notebook.open_folder"}
    unused = [
        f"{module}.{name}"
        for module in sorted(reached())
        for name, made in names_of(modules()[module])
        if f"{module}.{name}" not in taken() | started
        and not is_read_at_home(name, made, modules()[module])
        and name != "__all__"
    ]
    assert unused == []
