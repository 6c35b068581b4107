"""An Asset Administration Shell as a package file (AASX): the shell as JSON, with the files of its documents beside it.

An AASX is a package by the Open Packaging Conventions (ISO/IEC 29500-2): a ZIP whose parts are found by relationships.
The names of the relationships are those of IDTA 01005.
"""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING
from xml.sax.saxutils import quoteattr

if TYPE_CHECKING:
    from collections.abc import Iterable

_ORIGIN = "http://admin-shell.io/aasx/relationships/aasx-origin"
_SPEC = "http://admin-shell.io/aasx/relationships/aas-spec"
_SUPPLEMENT = "http://admin-shell.io/aasx/relationships/aas-suppl"
_RELATIONSHIPS = "http://schemas.openxmlformats.org/package/2006/relationships"
_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
_HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
SHELL = "/aasx/engine/shell.aas.json"
_WHEN = (1980, 1, 1, 0, 0, 0)  # the earliest that a ZIP can say: the same record gives the same package


def package(shell: str, files: Iterable[tuple[str, str, bytes]]) -> bytes:
    """Return the package.

    Parameters
    ----------
    shell : str
        JSON of the environment.
    files : iterable of (path, media type, content)
        Paths begin with ``/`` and are those that the shell names.
    """
    kept = list(files)
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as out:
        _put(out, "[Content_Types].xml", _content_types([(path, media) for path, media, _ in kept]))
        _put(out, "_rels/.rels", _relationships([(_ORIGIN, "/aasx/aasx-origin")]))
        _put(out, "aasx/aasx-origin", b"Intentionally empty.")
        _put(out, "aasx/_rels/aasx-origin.rels", _relationships([(_SPEC, SHELL)]))
        _put(out, SHELL[1:], shell.encode())
        folder, _, name = SHELL[1:].rpartition("/")
        _put(out, f"{folder}/_rels/{name}.rels", _relationships([(_SUPPLEMENT, path) for path, _, _ in kept]))
        for path, _, content in kept:
            _put(out, path[1:], content)
    return made.getvalue()


def _put(out: zipfile.ZipFile, name: str, content: bytes) -> None:
    entry = zipfile.ZipInfo(name, _WHEN)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    out.writestr(entry, content)


def _relationships(targets: list[tuple[str, str]]) -> bytes:
    rows = "".join(
        f'<Relationship Id="r{number}" Type={quoteattr(kind)} Target={quoteattr(path)}/>'
        for number, (kind, path) in enumerate(targets, 1)
    )
    return f'{_HEAD}<Relationships xmlns="{_RELATIONSHIPS}">{rows}</Relationships>'.encode()


def _content_types(parts: list[tuple[str, str]]) -> bytes:
    rows = "".join(
        f"<Override PartName={quoteattr(path)} ContentType={quoteattr(media)}/>"
        for path, media in [("/aasx/aasx-origin", "text/plain"), (SHELL, "application/json"), *parts]
    )
    default = '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    return f'{_HEAD}<Types xmlns="{_TYPES}">{default}{rows}</Types>'.encode()
