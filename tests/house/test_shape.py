"""How the source is laid out: what may stand where, and how long a file or function may be."""

from __future__ import annotations

import ast

from source_tree import ROOT, modules, tracked

TOP_LEVEL = {
    ".ci",
    ".gitignore",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "THIRD_PARTY_NOTICES.md",
    "companion",
    "fixtures_audio",
    "pyproject.toml",
    "speech",
    "tests",
    "wordsets",
}
LINES_MAX = 400
FUNCTION_LINES_MAX = 60

# Package registries and their mirrors, split so that this file names none of them.
REGISTRY_HOSTS = (
    "py" + "pi.org",
    "python" + "hosted.org",
    "npm" + "js.",
    "crates" + ".io",
    "huggingface" + ".co",
    "anaconda" + ".org",
    "deb." + "debian.org",
    "archive." + "ubuntu.com",
    "proxy." + "golang.org",
)
# Folders of one machine, which mean nothing on another.
MACHINE_PATHS = (
    "/" + "work/",
    "/" + "tmp/",
    "/" + "root/",
    "/" + "home/",
    "/" + "Users/",
    "C:" + "\\",
)


def test_the_top_level_holds_what_is_agreed_and_nothing_else() -> None:
    assert {path.parts[0] for path in tracked()} == TOP_LEVEL


def found_in_files(words: tuple[str, ...]) -> list[str]:
    texts = {path: (ROOT / path).read_bytes() for path in tracked()}
    return [
        f"{path}: {word}"
        for path, content in texts.items()
        for word in words
        if b"\0" not in content and word.encode() in content  # sound and weights hold any letters
    ]


def test_no_file_names_a_package_registry() -> None:
    assert found_in_files(REGISTRY_HOSTS) == []


def test_no_file_names_a_folder_of_one_machine() -> None:
    assert found_in_files(MACHINE_PATHS) == []


def test_files_stay_short_enough_to_read() -> None:
    long = {
        str(each.path): lines
        for each in modules()
        if (lines := len(each.text.splitlines())) > LINES_MAX
    }
    assert long == {}


def test_functions_stay_short_enough_to_read() -> None:
    long = {
        f"{each.path}:{node.lineno} {node.name}": lines
        for each in modules()
        for node in ast.walk(each.tree)
        if isinstance(node, ast.FunctionDef)
        and (lines := node.end_lineno - node.lineno + 1) > FUNCTION_LINES_MAX
    }
    assert long == {}


def test_no_exception_is_caught_without_saying_which() -> None:
    bare = [
        f"{each.path}:{node.lineno}"
        for each in modules()
        for node in ast.walk(each.tree)
        if isinstance(node, ast.ExceptHandler) and node.type is None
    ]
    assert bare == []


def test_bundled_clips_stay_below_six_megabytes() -> None:
    clips = [ROOT / path for path in tracked() if path.parts[0] == "fixtures_audio"]
    assert sum(clip.stat().st_size for clip in clips) <= 6_000_000
