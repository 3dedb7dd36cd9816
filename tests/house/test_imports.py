"""Which part may import which: one way only, as DEVELOPERS.md draws it."""

from __future__ import annotations

import subprocess
import sys
from graphlib import TopologicalSorter

import pytest
from source_tree import ROOT, Import, Module, dependencies, imports, modules, own

# Each part with the parts it may import, besides itself.
MAY_IMPORT = {
    "wordsets": (),
    "speech": (),
    "speech.training": ("speech",),
    "companion.phonics": ("wordsets",),
    "companion.record": ("speech",),
    "companion.practice": ("companion.phonics", "companion.record", "speech"),
    "companion.report": ("companion.phonics", "companion.record", "companion.practice", "speech"),
    "companion.school": (
        "companion.phonics",
        "companion.record",
        "companion.practice",
        "companion.report",
        "speech",
    ),
    "companion.pages": (
        "companion.phonics",
        "companion.record",
        "companion.practice",
        "companion.report",
        "companion.school",
        "speech",
    ),
    "companion.commands": (
        "companion.pages",
        "companion.phonics",
        "companion.record",
        "companion.practice",
        "companion.report",
        "companion.school",
        "speech",
        "fixtures_audio",
    ),
    "companion.cli": (),  # imports the module of one command by its name, when it runs
    "companion": ("companion.cli",),  # python -m companion
    "fixtures_audio": ("speech",),
}

# Modules that are tools of ours, run by `python -m` while building, never by the program.
TOOLS = {
    "wordsets.build_pronunciations": (),
    "wordsets.time_splitting": ("companion.phonics",),
    "companion.practice.trials": ("speech.training",),
    "companion.practice.calibrate": (),
    "companion.practice.measure_after_me": ("fixtures_audio",),
    "fixtures_audio.cut_children": ("companion.practice",),
    "fixtures_audio.conditions": ("companion.phonics",),
    "fixtures_audio.make_conditions": ("companion.phonics",),
    "speech.benchmark": (),
    "speech.benchmark_listeners": (),
}

# Own modules imported inside a function, each with its reason.
LATE = {
    ("wordsets.time_splitting", "companion.phonics.split"): "times the loading itself",
}

# What an import is called, where that is not its distribution's name.
IMPORT_NAMES = {
    "PyNaCl": "nacl",
    "kaldi-native-fbank": "kaldi_native_fbank",
    "pillow": "PIL",
    "pytest-xdist": "xdist",
    "zxing-cpp": "zxingcpp",
}


# Needed by a dependency for what we ask of it, and imported by that dependency only.
IMPORTED_FOR_US = {"python-multipart": "starlette reads forms and files sent to a page with it"}


def part(name: str) -> str:
    """The longest part that a module is in."""
    return max((key for key in MAY_IMPORT if f"{name}.".startswith(f"{key}.")), key=len)


def own_imports() -> list[Import]:
    return [found for module in modules() for found in imports(module) if own(found.of)]


def test_every_part_imports_only_what_lies_below_it() -> None:
    wrong = [
        f"{found.by}:{found.line} imports {found.of}"
        for found in own_imports()
        if part(found.of) not in (part(found.by), *MAY_IMPORT[part(found.by)])
        and part(found.of) not in TOOLS.get(found.by, ())
    ]
    assert not wrong, "\n".join(wrong)


def test_the_parts_allow_no_circle() -> None:
    tuple(TopologicalSorter(MAY_IMPORT).static_order())


def test_modules_import_each_other_in_no_circle() -> None:
    graph: dict[str, set[str]] = {}
    for found in own_imports():
        if found.of != found.by:
            graph.setdefault(found.by, set()).add(found.of)
    tuple(TopologicalSorter(graph).static_order())


def test_tools_are_imported_by_no_part_of_the_program() -> None:
    tools = {*TOOLS, *(each.name for each in modules() if each.name.startswith("speech.training"))}
    wrong = [
        f"{found.by} imports {found.of}"
        for found in own_imports()
        if found.of in tools and found.by not in tools
    ]
    assert not wrong, "\n".join(wrong)


def test_own_modules_are_imported_at_the_top_of_a_file() -> None:
    late = {(found.by, found.of) for found in own_imports() if found.local}
    assert late == set(LATE)


def third_party(files: list[Module]) -> set[str]:
    names = {found.of.split(".")[0] for module in files for found in imports(module)}
    return {name for name in names if name not in sys.stdlib_module_names and not own(name)}


def is_tool(module: Module) -> bool:
    # make_fixtures and the measuring programs beside it run on the runtime's own dependencies
    return module.name in TOOLS or module.name.startswith("speech.training")


def import_names(*groups: str | None) -> set[str]:
    names = {name for group in groups for name in dependencies(group)} - set(IMPORTED_FOR_US)
    return {IMPORT_NAMES.get(name, name) for name in names}


def test_the_program_imports_its_runtime_dependencies_and_no_other() -> None:
    assert third_party([each for each in modules() if not is_tool(each)]) == import_names(None)


def test_tools_import_only_what_their_extras_bring() -> None:
    tools = third_party([each for each in modules() if is_tool(each)])
    assert tools <= import_names(None, "train", "bench")


def test_tests_import_only_what_the_test_extra_brings() -> None:
    siblings = {path.stem for path in (ROOT / "tests").rglob("*.py")}
    files = [
        Module(path.stem, path.relative_to(ROOT), path.read_text("utf-8"))
        for path in (ROOT / "tests").rglob("*.py")
    ]
    assert third_party(files) - siblings <= import_names(None, "test", "fuzz")


@pytest.mark.parametrize("heavy", ["onnxruntime", "sounddevice", "soundfile", "pyttsx3", "numpy"])
def test_help_is_shown_without_loading_what_is_heavy(heavy: str) -> None:
    code = (
        "import sys\nfrom companion.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        f"sys.exit({heavy!r} in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True)


# Run in a fresh interpreter: imports the modules named, and prints every file, socket, database,
# program or library that was opened meanwhile and is not part of Python or of an installed package.
WATCH = """
import importlib, os, sys
opened = []
def watch(event, args):
    if event == "open":
        path = os.path.abspath(os.fsdecode(args[0])) if isinstance(args[0], (str, bytes)) else ""
        writes = isinstance(args[2], int) and args[2] & (os.O_WRONLY | os.O_RDWR)
        code = path.endswith((".py", ".pyc", ".so")) or path.startswith(tuple(elsewhere))
        caches = "__pycache__" in path
        if (path and path != os.devnull and not code) or (writes and not caches):
            opened.append(f"open {path}")
    elif event.split(".")[0] in ("socket", "sqlite3", "subprocess"):
        opened.append(f"{event} {args}")
    elif event == "ctypes.dlopen" and "portaudio" in str(args[0]):
        opened.append(f"{event} {args}")
elsewhere = [os.path.realpath(p) for p in (sys.prefix, sys.base_prefix)]
elsewhere += [sys.prefix, sys.base_prefix, "/proc/", "/sys/", "/etc/", "/usr/", "/dev/"]
elsewhere += [p for p in sys.path if p.endswith("-packages")]
names = sys.argv[1].split(",")
sys.addaudithook(watch)
for name in names:
    importlib.import_module(name)
print("\\n".join(opened))
"""


def test_importing_opens_no_file_socket_database_or_sound_card() -> None:
    names = [each.name for each in modules() if not is_tool(each)]
    done = subprocess.run(
        [sys.executable, "-c", WATCH, ",".join(names)], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "", done.stdout
