"""What the tests of the house read: tracked files, modules, and what each module imports."""

from __future__ import annotations

import ast
import re
import subprocess
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("companion", "speech", "wordsets", "fixtures_audio")


@cache
def tracked() -> tuple[Path, ...]:
    """Every file that git keeps, as a path below the root."""
    listed = subprocess.run(
        ["git", "-c", "safe.directory=*", "ls-files", "-z"],
        cwd=ROOT,
        capture_output=True,
        check=True,
    )
    paths = (Path(name) for name in listed.stdout.decode().split("\0") if name)
    return tuple(path for path in paths if (ROOT / path).exists())


@dataclass(frozen=True)
class Module:
    """One module of ours: its dotted name, its path below the root, and its text."""

    name: str
    path: Path
    text: str

    @cached_property
    def tree(self) -> ast.Module:
        return ast.parse(self.text, str(self.path))


@cache
def modules() -> tuple[Module, ...]:
    """Every module of our packages."""
    found = []
    for path in tracked():
        if path.suffix == ".py" and path.parts[0] in PACKAGES:
            name = ".".join(path.with_suffix("").parts).removesuffix(".__init__")
            found.append(Module(name, path, (ROOT / path).read_text("utf-8")))
    return tuple(found)


@dataclass(frozen=True)
class Import:
    """One import statement's module: who imports what, where, and whether only when called."""

    by: str
    of: str
    line: int
    local: bool


def imports(module: Module) -> Iterator[Import]:
    """Everything a module imports, names brought in by ``from a import b`` counted as ``a.b``.

    What stands under ``TYPE_CHECKING`` counts as well: it is part of the direction.
    """
    known = {each.name for each in modules()}
    local = {
        id(inner)
        for outer in ast.walk(module.tree)
        if isinstance(outer, ast.FunctionDef | ast.AsyncFunctionDef)
        for inner in ast.walk(outer)
    }
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module.path}:{node.lineno}: imports are absolute here"
            names = [
                f"{node.module}.{alias.name}"
                if f"{node.module}.{alias.name}" in known
                else str(node.module)
                for alias in node.names
            ]
        else:
            continue
        for name in dict.fromkeys(names):
            yield Import(module.name, name, node.lineno, id(node) in local)


def own(name: str) -> bool:
    """Whether a dotted name is one of ours."""
    return name.split(".")[0] in PACKAGES


def dependencies(group: str | None = None) -> tuple[str, ...]:
    """Names of the distributions in pyproject.toml: the runtime's, or an extra's."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    lines = project["dependencies"] if group is None else project["optional-dependencies"][group]
    return tuple(re.split(r"[<>=!~\[; ]", line, maxsplit=1)[0] for line in lines)
