"""The smallest workbooks that a spreadsheet program opens, written by hand: ISO/IEC 29500 parts, zipped."""

from __future__ import annotations

import zipfile
from pathlib import Path

_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_TYPES = f"""<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Default Extension="xml" ContentType="application/xml"/>
<Override PartName="/xl/workbook.xml" ContentType="{_KIND}.sheet.main+xml"/>
<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{_KIND}.worksheet+xml"/>
<Override PartName="/xl/styles.xml" ContentType="{_KIND}.styles+xml"/></Types>"""
_REL = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_RELS = f"""<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Id="rId1" Type="{_REL}/officeDocument" Target="xl/workbook.xml"/></Relationships>"""
_BOOK_RELS = f"""<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Id="rId1" Type="{_REL}/worksheet" Target="worksheets/sheet1.xml"/>
<Relationship Id="rId2" Type="{_REL}/styles" Target="styles.xml"/></Relationships>"""
_BOOK = f"""<?xml version="1.0"?><workbook xmlns="{_MAIN}" xmlns:r="{_REL}"><sheets>
<sheet name="Log" sheetId="1" r:id="rId1"/></sheets></workbook>"""
_STYLES = f"""<?xml version="1.0"?><styleSheet xmlns="{_MAIN}">
<cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="22"/></cellXfs>
</styleSheet>"""


class Serial(float):
    """A moment as days of the spreadsheet."""


def letters(column: int) -> str:
    """Return A, B ... of a column counted from 0."""
    found = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        found = chr(65 + rest) + found
    return found


def cell(value: object, column: int, row: int) -> str:
    """Return a cell's element; nothing for an empty one."""
    at = f"{letters(column)}{row}"
    if value == "":
        return ""
    if isinstance(value, str):
        return f'<c r="{at}" t="inlineStr"><is><t>{value}</t></is></c>'
    style = ' s="1"' if isinstance(value, Serial) else ""
    return f'<c r="{at}"{style}><v>{float(value)!r}</v></c>'


def workbook(path: Path, rows: list[list[object]], sheet: str = "") -> Path:
    """Write a workbook of one sheet; ``sheet`` is its XML where it is not made of rows."""
    lines = "".join(
        f'<row r="{at}">{"".join(cell(value, column, at) for column, value in enumerate(row))}</row>'
        for at, row in enumerate(rows, start=1)
    )
    sheet = sheet or f'<?xml version="1.0"?><worksheet xmlns="{_MAIN}"><sheetData>{lines}</sheetData></worksheet>'
    parts = {"[Content_Types].xml": _TYPES, "_rels/.rels": _RELS, "xl/workbook.xml": _BOOK,
             "xl/_rels/workbook.xml.rels": _BOOK_RELS, "xl/styles.xml": _STYLES,
             "xl/worksheets/sheet1.xml": sheet}  # fmt: skip
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        for name, text in parts.items():
            book.writestr(name, text)
    return path
