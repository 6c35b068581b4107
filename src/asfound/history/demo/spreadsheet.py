"""A spreadsheet file (Office Open XML, ECMA-376) with one sheet of rows, written without a library."""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np

from asfound.history.channels import Times
from asfound.history.demo.cells import Cells, numbers

DAY_ZERO = 25_569
"""Days from the spreadsheet's day 0 to 1970-01-01."""
_FIXED_DATE = (1980, 1, 1, 0, 0, 0)
_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="xml" ContentType="application/xml"/>'
    '<Override PartName="/xl/workbook.xml" '
    'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
    '<Override PartName="/xl/worksheets/sheet1.xml" '
    'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>'
    '<Override PartName="/xl/styles.xml" '
    'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/></Types>'
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">{}</Relationships>'
)
_ONE = (
    '<Relationship Id="{}" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/{}" Target="{}"/>'
)
_SPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STYLES = (
    f'<?xml version="1.0" encoding="UTF-8"?><styleSheet xmlns="{_SPACE}">'
    '<fonts count="1"><font/></fonts><fills count="1"><fill/></fills><borders count="1"><border/></borders>'
    '<cellStyleXfs count="1"><xf/></cellStyleXfs><cellXfs count="2"><xf/>'
    '<xf numFmtId="22" applyNumberFormat="1"/></cellXfs>'
    "</styleSheet>"
)


def write_sheet(
    path: Path, title: str, heads: Sequence[str], time: Times, columns: Sequence[Cells], *, sheet: str = "Log"
) -> None:
    """Write a workbook: a title, an empty row, the heads, then a row for each time.

    Parameters
    ----------
    path : Path
        File to write.
    title : str
        Of the first row.
    heads : sequence of str
        The time's first.
    time : array (n,)
        As the sheet shows it. [µs]
    columns : sequence of cells
        Numbers; an empty cell is missing.
    """
    days = numbers(time / 86_400e6 + DAY_ZERO, 9)
    body = _rows(days, columns)
    first = f"<row>{_text(title)}</row><row/><row>{''.join(map(_text, heads))}</row>"
    around = (
        f'<?xml version="1.0" encoding="UTF-8"?><worksheet xmlns="{_SPACE}"><sheetData>{first}'.encode(),
        b"</sheetData></worksheet>",
    )
    workbook = (
        f'<?xml version="1.0" encoding="UTF-8"?><workbook xmlns="{_SPACE}" '
        'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">'
        f'<sheets><sheet name="{escape(sheet)}" sheetId="1" r:id="rId1"/></sheets></workbook>'
    )
    parts = {
        "[Content_Types].xml": _TYPES.encode(),
        "_rels/.rels": _RELATIONS.format(_ONE.format("rId1", "officeDocument", "xl/workbook.xml")).encode(),
        "xl/workbook.xml": workbook.encode(),
        "xl/_rels/workbook.xml.rels": _RELATIONS.format(
            _ONE.format("rId1", "worksheet", "worksheets/sheet1.xml") + _ONE.format("rId2", "styles", "styles.xml")
        ).encode(),
        "xl/styles.xml": _STYLES.encode(),
        "xl/worksheets/sheet1.xml": around[0] + body + around[1],
    }
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as file:
        for name, content in parts.items():
            file.writestr(zipfile.ZipInfo(name, _FIXED_DATE), content, zipfile.ZIP_DEFLATED, 1)


def _rows(days: Cells, columns: Sequence[Cells]) -> bytes:
    number = len(days)

    def always(text: str) -> Cells:
        return np.broadcast_to(np.frombuffer(text.encode(), dtype=np.uint8), (number, len(text)))

    pieces = [always('<row><c s="1"><v>'), days, always("</v></c>")]
    for column in columns:
        empty = ~column.any(axis=1)
        opening, closing = always("<c><v>").copy(), always("</v></c>").copy()
        if empty.any():  # an empty cell keeps its place
            opening[empty] = 0
            closing[empty] = 0
            opening[empty, :4] = np.frombuffer(b"<c/>", dtype=np.uint8)
        pieces += [opening, column, closing]
    pieces.append(always("</row>"))
    flat = np.hstack(pieces).ravel()
    return bytes(flat[flat != 0].tobytes())


def _text(word: str) -> str:
    return f'<c t="inlineStr"><is><t>{escape(word)}</t></is></c>' if word else "<c/>"
