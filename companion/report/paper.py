"""Paper: A4 pages as PDF, with the frame, the lettering and the cautions every sheet shares.

Made with ReportLab in its invariant mode: the same content gives the same bytes, and no date or
name of a computer is in the file. Lettering is Andika (SIL, OFL 1.1; `fonts`), made for beginning
readers; the letters used are embedded. Lengths are points (1/72 inch), origin at the lower left.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib import resources
from io import BytesIO
from typing import Any, Literal
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph, Table, TableStyle

from companion.report.boxes import Box as Box  # handed on: whoever prints needs both
from companion.report.cautions import CAUTIONS
from speech.trouble import Trouble

MM = 72 / 25.4
MARGIN = 15 * MM
"""Nothing is drawn nearer to an edge: printers at home and at school leave 5 to 12 mm white."""

REGULAR, BOLD = "Andika", "Andika-Bold"
LANGUAGE = "en-GB"

INK = HexColor(0x1F2933)
SEA = HexColor(0x1F5F8B)
"""The one accent; it prints as a middle grey, and nothing is told by it alone."""
RULE = HexColor(0x8A949E)

Style = Literal["title", "heading", "text", "small", "fine"]
SIZES: dict[Style, float] = {"title": 20, "heading": 13, "text": 11.5, "small": 9.5, "fine": 8}
"""Letter heights in points. Running text is near the 12 points asked of printed matter for readers
with dyslexia (British Dyslexia Association, Dyslexia Style Guide; Andika's letters are large for
their size); ``fine`` is for the cautions, which an adult reads."""

LEADING = 1.4
SMALLEST = 0.7
"""How far `Paper.write_fitting` may shrink text before it refuses."""

Align = Literal["left", "centre", "right"]
_ALIGN = {"left": TA_LEFT, "centre": TA_CENTER, "right": TA_RIGHT}


class TooMuch(Trouble):
    """What was to be written does not fit where it must stand."""


class Bold(str):
    """A stretch of text in bold letters, for `Paper.write`."""

    __slots__ = ()


Text = str | Sequence[str]
"""Plain text, or stretches of it of which some may be `Bold`. Nothing in it is read as markup."""


class Paper:
    """A document being made, page after page.

    Attributes
    ----------
    canvas : reportlab.pdfgen.canvas.Canvas
        For drawing what has no method here; stay within the box that `page` gave.
    """

    def __init__(self, title: str, about: str, *, on_its_side: bool = False) -> None:
        """Begin a document.

        Parameters
        ----------
        title : str
            What a window or a screen reader calls it. Put no name of a child in it.
        about : str
            One sentence on what it is, kept in the file's own description.
        on_its_side : bool
            Landscape instead of portrait.
        """
        load_fonts()
        self._bytes = BytesIO()
        self._size = landscape(A4) if on_its_side else A4
        self.canvas = Canvas(
            self._bytes,
            pagesize=self._size,
            invariant=1,
            pageCompression=1,
            initialFontName=REGULAR,
            lang=LANGUAGE,
        )
        self.canvas.setTitle(title)
        self.canvas.setSubject(about)
        self.canvas.setAuthor("Wordhearth")
        self.canvas.setCreator("Wordhearth")
        self.canvas.setViewerPreference("DisplayDocTitle", "true")
        self._begun = False
        self._foot: tuple[Box, tuple[str, ...]] | None = None

    def page(self, heading: str, beneath: str = "", cautions: Sequence[str] = CAUTIONS) -> Box:
        """Begin a page: its heading above, the cautions below.

        Parameters
        ----------
        heading, beneath : str
            The title line, and a smaller line under it.
        cautions : sequence of str
            What stands at the foot; empty only for a page that says nothing of any child.

        Returns
        -------
        Box
            What is left between them.
        """
        frame = self.bare_page()
        self.canvas.setFillColor(INK)
        body = self.write([Bold(heading)], frame, "title")
        if beneath:
            body = self.write(beneath, body, "text")
        body = body.split_top(2 * MM)[1]
        self._rule(body, SEA, 1.2)
        body = body.split_top(4 * MM)[1]
        if not cautions:
            return body
        lines = ("Please keep in mind", *cautions)
        needed = sum(self.height_of(_foot_text(n, line), body.width, "fine") for n, line in
                     enumerate(lines))  # fmt: skip
        body, foot = body.split_bottom(needed + 2 * MM)
        self._foot = (foot, lines)
        return body.split_bottom(3 * MM)[0]

    def bare_page(self) -> Box:
        """Begin a page with neither heading nor cautions, for what says nothing of any child."""
        self._close_page()
        self._begun = True
        width, height = self._size
        return Box(0, 0, width, height).inside(MARGIN)

    def write(self, text: Text, box: Box, style: Style = "text", align: Align = "left") -> Box:
        """Write a paragraph at the top of `box`, wrapped to its width.

        Returns
        -------
        Box
            What is left of the box below it.

        Raises
        ------
        TooMuch
            It is higher than the box.
        """
        return self._write(text, box, style, align, 1.0)

    def write_fitting(self, parts: Sequence[tuple[Text, Style]], box: Box) -> Box:
        """Write paragraphs one below the other, all a little smaller where they need to be.

        Raises
        ------
        TooMuch
            Even at 0.7 of their size (`SMALLEST`) they do not fit.
        """
        scale = 1.0
        while scale > SMALLEST and self._heights(parts, box.width, scale) > box.height:
            scale = max(scale - 0.02, SMALLEST)
        for text, style in parts:
            box = self._write(text, box, style, "left", scale)
        return box

    def height_of(self, text: Text, width: float, style: Style = "text") -> float:
        """How high a paragraph of that width becomes, in points."""
        return self._heights([(text, style)], width, 1.0)

    def table(
        self,
        rows: Sequence[Sequence[Text]],
        widths: Sequence[float],
        box: Box,
        style: Style = "small",
    ) -> Box:
        """Write a table whose first row is its head; cells wrap, thin rules between the rows.

        Parameters
        ----------
        rows : sequence of sequences
            Cells, row by row; each row as long as `widths`.
        widths : sequence of float
            Shares of the box's width, in any unit.

        Raises
        ------
        TooMuch
            It is higher than the box.
        """
        return self._place(_made_table(rows, widths, box.width, style), box, "a table")

    def table_height(
        self,
        rows: Sequence[Sequence[Text]],
        widths: Sequence[float],
        width: float,
        style: Style = "small",
    ) -> float:
        """How high `table` becomes in a box of that width, in points."""
        return float(_made_table(rows, widths, width, style).wrap(width, 1e6)[1])

    def rule(self, box: Box) -> Box:
        """Draw a thin line across the top of `box`; what is left is below it."""
        self._rule(box, RULE, 0.6)
        return box.split_top(2 * MM)[1]

    def frame(self, box: Box, *, cut: bool = False) -> None:
        """Draw the outline of a box: solid, or dashed as a line to cut along."""
        self.canvas.saveState()
        self.canvas.setStrokeColor(RULE if cut else INK)
        self.canvas.setLineWidth(0.6)
        if cut:
            self.canvas.setDash(4, 3)
        self.canvas.rect(box.left, box.bottom, box.width, box.height, stroke=1, fill=0)
        self.canvas.restoreState()

    def finish(self) -> bytes:
        """Close the document and give the PDF; the paper is used up."""
        self._close_page()
        self.canvas.save()
        return self._bytes.getvalue()

    def _close_page(self) -> None:
        """Draw the foot last, so that a page is read out from its top to its bottom."""
        if self._foot is not None:
            box, lines = self._foot
            self._foot = None
            self._rule(box, RULE, 0.6)
            box = box.split_top(2 * MM)[1]
            for n, line in enumerate(lines):
                box = self.write(_foot_text(n, line), box, "fine")
        if self._begun:
            self.canvas.showPage()
        self._begun = False

    def _write(self, text: Text, box: Box, style: Style, align: Align, scale: float) -> Box:
        return self._place(Paragraph(_markup(text), _style(style, align, scale)), box, _plain(text))

    def _place(self, made: Any, box: Box, what: str) -> Box:
        _, height = made.wrap(box.width, box.height)
        if height > box.height + 0.01:
            short = what if len(what) <= 40 else what[:37] + "..."
            raise TooMuch(
                f"{short!r} does not fit on the page",
                f"it needs {height / MM:.0f} mm of height and has {max(box.height, 0) / MM:.0f}",
                "Print fewer words or rows, or use two sheets",
            )
        made.drawOn(self.canvas, box.left, box.top - height)
        return box.split_top(height)[1]

    def _heights(self, parts: Sequence[tuple[Text, Style]], width: float, scale: float) -> float:
        return sum(
            float(Paragraph(_markup(text), _style(style, "left", scale)).wrap(width, 1e6)[1])
            for text, style in parts
        )

    def _rule(self, box: Box, colour: Any, width: float) -> None:
        self.canvas.saveState()
        self.canvas.setStrokeColor(colour)
        self.canvas.setLineWidth(width)
        self.canvas.line(box.left, box.top, box.right, box.top)
        self.canvas.restoreState()


@cache
def load_fonts() -> None:
    """Make `REGULAR` and `BOLD` known to ReportLab; further calls do nothing."""
    folder = resources.files("companion.report").joinpath("fonts")
    for name, file in ((REGULAR, "Andika-Regular.ttf"), (BOLD, "Andika-Bold.ttf")):
        pdfmetrics.registerFont(TTFont(name, BytesIO(folder.joinpath(file).read_bytes())))
    pdfmetrics.registerFontFamily(
        REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD
    )


@cache
def _style(style: Style, align: Align, scale: float) -> ParagraphStyle:
    size = SIZES[style] * scale
    return ParagraphStyle(
        f"{style}-{align}-{scale}",
        fontName=REGULAR,
        fontSize=size,
        leading=size * LEADING,
        textColor=INK,
        alignment=_ALIGN[align],
        splitLongWords=1,
        spaceShrinkage=0,
    )


def _made_table(
    rows: Sequence[Sequence[Text]], widths: Sequence[float], width: float, style: Style
) -> Any:
    unit = width / sum(widths)
    kind = _style(style, "left", 1.0)
    cells = [
        [Paragraph(_markup([Bold(_plain(cell))] if n == 0 else cell), kind) for cell in row]
        for n, row in enumerate(rows)
    ]
    made = Table(cells, colWidths=[share * unit for share in widths])
    made.setStyle(
        TableStyle(
            [
                ("FONTNAME", (0, 0), (-1, -1), REGULAR),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("RIGHTPADDING", (0, 0), (-1, -1), 4),
                ("TOPPADDING", (0, 0), (-1, -1), 1),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
                ("LINEBELOW", (0, 0), (-1, 0), 1, INK),
                ("LINEBELOW", (0, 1), (-1, -1), 0.4, RULE),
            ]
        )
    )
    return made


def _markup(text: Text) -> str:
    stretches = [text] if isinstance(text, str) else text
    return "".join(
        f"<b>{escape(each)}</b>" if isinstance(each, Bold) else escape(each) for each in stretches
    )


def _plain(text: Text) -> str:
    return text if isinstance(text, str) else "".join(text)


def _foot_text(number: int, line: str) -> Text:
    return [Bold(line)] if number == 0 else f"· {line}"
