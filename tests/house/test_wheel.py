"""The wheel holds everything the program needs, and is small enough to hand out."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from source_tree import ROOT, tracked

BYTES_MAX = 40_000_000


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (built,) = folder.glob("*.whl")
    return built


def test_the_wheel_is_at_most_40_megabytes(wheel: Path) -> None:
    assert wheel.stat().st_size <= BYTES_MAX


def test_the_wheel_holds_every_module_model_word_list_and_clip(wheel: Path) -> None:
    packages = ("companion", "speech", "wordsets", "fixtures_audio")
    wanted = {
        str(path)
        for path in tracked()
        if path.parts[0] in packages and path.parent.name != "pictures"
    }
    held = set(zipfile.ZipFile(wheel).namelist())
    assert wanted - held == set()
    assert "speech/models/phone_scorer.onnx" in held
    assert "companion/practice/marking.json" in held


def test_the_wheel_carries_its_licence_and_notices(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert any(name.endswith("licenses/THIRD_PARTY_NOTICES.md") for name in names)


def test_the_wheel_holds_no_tests_and_no_pictures(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert [name for name in names if name.startswith("tests/") or "/pictures/" in name] == []


def test_the_demo_runs_from_the_wheel_alone(wheel: Path, tmp_path: Path) -> None:
    zipfile.ZipFile(wheel).extractall(tmp_path / "unpacked")
    code = (
        "import companion, pathlib, sys\nfrom companion.cli import main\n"
        "assert pathlib.Path(companion.__file__).is_relative_to(sys.argv.pop())\n"
        "sys.exit(main())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "demo", str(tmp_path / "unpacked")],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(tmp_path / "unpacked")},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
