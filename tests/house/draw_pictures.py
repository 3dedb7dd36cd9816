"""Draw the pictures in README.md from what the program prints, by running this file."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from rich.console import Console
from rich.terminal_theme import TerminalTheme
from rich.text import Text

ROOT = Path(__file__).parents[2]
PICTURES = ROOT / "companion" / "report" / "pictures"
COMMANDS = {
    "demo": ("demo",),
    "split": ("split", "pine", "hoped", "said"),
}
WIDTH = 104
# Ink on paper: black, red, green, yellow, blue, magenta, cyan, white; then the same, bright.
INKS = [(40, 40, 40), (160, 40, 30), (20, 110, 50), (130, 95, 0), (30, 80, 150), (120, 50, 120),
        (0, 105, 110), (110, 110, 110)]  # fmt: skip
PAPER = TerminalTheme((252, 250, 245), (40, 40, 40), INKS, INKS)


def printed(arguments: tuple[str, ...], home: str) -> str:
    """What a command prints to a terminal, colour included."""
    code = "import sys; from companion.cli import main; sys.exit(main())"
    settings = {
        "PYTHONPATH": str(ROOT),
        "WORDHEARTH_HOME": home,
        "FORCE_COLOR": "1",
        "TERM": "xterm-256color",
        "COLUMNS": str(WIDTH),
    }
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        env=os.environ | settings,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout


def shortened(text: str) -> str:
    """The demo's first two days and its week sheet: the days between look the same."""
    blocks = re.split(r"\n\s*\n", text.strip())
    sheet = next(i for i, block in enumerate(blocks) if "Week sheet" in block)
    return "\n\n".join([*blocks[:2], "…", *blocks[sheet:]])


def drawing(title: str, text: str) -> str:
    """A terminal as SVG that asks for no font from elsewhere."""
    with Path(os.devnull).open("w", encoding="utf-8") as nowhere:
        console = Console(width=WIDTH, record=True, file=nowhere, force_terminal=True)
        console.print(Text.from_ansi(text.rstrip()))
    svg = console.export_svg(title=title, unique_id="terminal", theme=PAPER)
    svg = re.sub(r"<circle .*?/>\n?", "", svg)
    svg = re.sub(r"@font-face \{.*?\}\n?", "", svg, flags=re.DOTALL)
    return svg.replace("Fira Code, monospace", "monospace").replace(
        "<!-- Generated with Rich https://www.textualize.io -->\n", ""
    )


def main() -> None:
    """Draw them all."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as home:
        for name, arguments in COMMANDS.items():
            text = printed(arguments, home)
            shown = shortened(text) if name == "demo" else text
            svg = drawing(" ".join(["wordhearth", *arguments]), shown)
            (PICTURES / f"{name}.svg").write_text(svg, "utf-8")
            print(f"{name}.svg: {len(svg) // 1024} KiB")


if __name__ == "__main__":
    main()
