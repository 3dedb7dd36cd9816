"""The documents keep up with the program: what they must mention, and that their commands work."""

from __future__ import annotations

import ast
import json
import os
import re
import shlex
import subprocess
import sys

import pytest
from source_tree import ROOT, Module, dependencies, modules

from companion.cli import COMMANDS

README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
NOTICES = (ROOT / "THIRD_PARTY_NOTICES.md").read_text("utf-8")
SHELL_BLOCKS = re.findall(r"^```bash\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def wordhearth_lines() -> list[str]:
    """Every line of the README that a reader would type to run the program."""
    blocks = re.findall(r"^```console\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines()]
    typed = (re.split(r" [#>]", line, maxsplit=1)[0].strip() for line in lines)
    return [line for line in typed if line.startswith("wordhearth ")]


def test_the_first_two_shell_blocks_of_the_readme_are_its_two_commands() -> None:
    assert len(SHELL_BLOCKS) == 2
    first, second = SHELL_BLOCKS
    assert "wordhearth demo" in first
    assert second == "bash tests/run\n"


@pytest.mark.parametrize("line", wordhearth_lines())
def test_every_command_line_of_the_readme_is_one_the_program_takes(line: str) -> None:
    words = shlex.split(line)[1:]
    code = (
        "import sys\nfrom companion import cli\n"
        "words = sys.argv[1:]\ncli._parser(words).parse_args(words)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr


# Commands that need neither a microphone nor a recorded consent.
RUNNABLE = [line for line in wordhearth_lines() if line.split()[1] in ("split", "list")]


@pytest.mark.parametrize("line", RUNNABLE)
def test_teachers_command_lines_of_the_readme_do_what_is_printed(
    line: str, tmp_path: os.PathLike[str]
) -> None:
    words = shlex.split(line)[1:]
    code = "import sys\nfrom companion.cli import main\nsys.exit(main())"
    done = subprocess.run(
        [sys.executable, "-c", code, *words],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout


def test_the_readme_shows_every_command() -> None:
    assert [name for name in COMMANDS if f"wordhearth {name}" not in README] == []


def test_pictures_of_the_readme_are_there_and_ask_nothing_of_the_network() -> None:
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert pictures
    for name in pictures:
        assert (ROOT / name).stat().st_size <= 150_000, name
        if name.endswith(".svg"):
            drawing = (ROOT / name).read_text("utf-8")
            links = set(re.findall(r"https?://[^\"') ]+", drawing))
            assert links <= {"http://www.w3.org/2000/svg"}, name


def test_the_cautions_stand_in_the_readme() -> None:
    for word in ("not a diagnosis", "dyslexia", "SENCo", "school's policy", "can be wrong"):
        assert word in README, word


@pytest.mark.parametrize("module", modules(), ids=lambda module: module.name)
def test_the_architecture_page_lists_every_module(module: Module) -> None:
    if module.path.name != "__init__.py":
        assert f"`{module.path}`" in DEVELOPERS, f"{module.path} is not in DEVELOPERS.md"


def test_the_architecture_page_lists_no_module_that_is_gone() -> None:
    listed = set(re.findall(r"^\| `((?:companion|speech|wordsets|fixtures_audio)/[\w/]+\.py)`",
                            DEVELOPERS, re.MULTILINE))  # fmt: skip
    assert listed - {str(each.path) for each in modules()} == set()


def dataclasses_of(module: Module) -> list[tuple[str, bool]]:
    """Public dataclasses of a module, each with whether it is frozen."""
    found = []
    for node in module.tree.body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            marks = [ast.unparse(mark) for mark in node.decorator_list]
            if any(mark.startswith("dataclass") for mark in marks):
                found.append((node.name, any("frozen=True" in mark for mark in marks)))
    return found


def test_every_public_dataclass_is_frozen() -> None:
    loose = [
        f"{each.path}: {name}"
        for each in modules()
        for name, frozen in dataclasses_of(each)
        if not frozen
    ]
    assert loose == []


def test_the_architecture_page_lists_every_boundary_type() -> None:
    missing = [
        f"{each.path}: {name}"
        for each in modules()
        for name, _ in dataclasses_of(each)
        if f"`{name}`" not in DEVELOPERS
    ]
    assert missing == []


def test_the_architecture_page_names_every_column_kept_about_a_child() -> None:
    from companion.record import schema

    columns = re.findall(r"^ {8}(\w+) (?:TEXT|INTEGER|REAL)", schema.MIGRATIONS[-1], re.MULTILINE)
    assert len(columns) > 15
    assert [name for name in dict.fromkeys(columns) if f"`{name}`" not in DEVELOPERS] == []


def test_the_architecture_page_names_every_column_of_the_class_book() -> None:
    from companion.school import schema

    columns = re.findall(r"^ {8}(\w+) (?:TEXT|INTEGER|BLOB)", "".join(schema.MIGRATIONS), re.M)
    assert len(columns) > 40
    assert [name for name in dict.fromkeys(columns) if f"`{name}`" not in DEVELOPERS] == []


@pytest.mark.parametrize("name", dependencies())
def test_the_notices_name_every_runtime_dependency(name: str) -> None:
    assert re.search(rf"\b{re.escape(name)}\b", NOTICES, re.IGNORECASE)


@pytest.mark.parametrize(
    "name", sorted({*dependencies(), *dependencies("test"), *dependencies("train"),
                    *dependencies("bench"), *dependencies("fuzz")})
)  # fmt: skip
def test_the_guide_gives_the_reason_for_every_dependency(name: str) -> None:
    assert f"| {name} |" in DEVELOPERS


def test_the_notices_name_where_every_clip_comes_from() -> None:
    rows = [
        json.loads(line)
        for line in (ROOT / "fixtures_audio/manifest.jsonl").read_text("utf-8").splitlines()
    ]
    sources = {re.split(r"[,:(]", row["source"])[0].strip() for row in rows} - {"made from numbers"}
    assert {"espeak-ng", "flite"} <= sources
    assert [name for name in sorted(sources) if name.lower() not in NOTICES.lower()] == []


def test_the_notices_name_where_the_models_and_word_data_come_from() -> None:
    for origin in ("Whisper tiny.en", "speechocean762", "CMU Pronouncing Dictionary", "wordfreq"):
        assert origin in NOTICES, origin
