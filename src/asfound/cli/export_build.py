"""`asfound export-build`: what is fitted, for programs of whoever runs the engine."""

from __future__ import annotations

from pathlib import Path

from asfound.cli.answer import answer, working
from asfound.cli.find import opened, view_of
from asfound.cli.handover import free, write
from asfound.cli.options import Home
from asfound.errors import InputError


def export_build(engine: str, /, *, aas: Path, left: bool = False, replace: bool = False, where: Home = Home()) -> None:
    """Write what is believed fitted to an engine as an Asset Administration Shell, with its nameplate and documents.

    Parameters
    ----------
    engine
        Tag of the engine: its open visit, else its latest; or one visit as tag/date.
    aas
        File to write: .json for the shell alone, .aasx for a package with report, record and photos in it.
    left
        The build as left instead of as found.
    replace
        Write over a file that is there.
    """
    from asfound.report.shell import as_json, environment, files
    from asfound.report.shell_package import package

    ending = aas.suffix.casefold()
    if ending not in (".json", ".aasx"):
        raise InputError(
            "aas", str(aas), "does not say which form", allowed=".json or .aasx", try_next=f"Name it {aas.stem}.aasx."
        )
    records = opened(where)
    seen = view_of(records, engine)
    free(aas, replace)
    inside = ending == ".aasx"
    found = environment(seen, state="as_left" if left else "as_found", inside=inside)
    text = as_json(found)
    with working("Packing"):
        content = package(text, files(records, seen)) if inside else text.encode()
    write(aas, content)
    names = [one["idShort"] for one in found["submodels"]]
    data = {
        "file": str(aas),
        "bytes": len(content),
        "visit": seen.visit.name,
        "submodels": names,
    }
    answer(where, data, lambda: [f"Written: {aas}, {len(content):,} bytes; {', '.join(names)}"])
