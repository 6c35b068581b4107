"""Write what the program is made of: `docs/licences.md`, and `docs/sbom.cdx.json` (CycloneDX 1.6).

    python .ci/licences.py            write both
    python .ci/licences.py --check    say whether they are as they would be written; 1 if not

Names, versions and digests come from `requirements.lock`, licences from the metadata of what is installed. The same
lock gives the same files: neither holds a time. Run it after every change of the lock.
"""

from __future__ import annotations

import hashlib
import json
import re
import sys
import tomllib
import uuid
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
LOCK, DEV_LOCK = ROOT / "requirements.lock", ROOT / "requirements-dev.lock"
PAGE, BOM = ROOT / "docs" / "licences.md", ROOT / "docs" / "sbom.cdx.json"
OF_CLASSIFIER = {
    "MIT License": "MIT",
    "Apache Software License": "Apache-2.0",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "GNU Lesser General Public License v3 (LGPLv3)": "LGPL-3.0-only",
}
OF_WORDS = {"MIT": "MIT", "Apache-2.0": "Apache-2.0", "BSD-3-Clause": "BSD-3-Clause"}
OF_TEXT = {"jinja2": "BSD-3-Clause", "scipy": "BSD-3-Clause", "sqlcipher3": "Zlib AND BSD-3-Clause"}
"""Metadata says no more than 'BSD', or nothing; so says the text of the licence in the package. The wheel of sqlcipher3
also holds SQLCipher, whose licence is BSD-3-Clause."""
BESIDE = (("Atkinson Hyperlegible (fonts of pages and reports)", "OFL-1.1"),)
"""What lies in the package itself and is not ours."""


@dataclass(frozen=True, slots=True)
class Package:
    """A line of the lock."""

    name: str
    version: str
    marker: str
    digests: tuple[str, ...]
    needed_by: tuple[str, ...]


def packages(lock: Path) -> list[Package]:
    """Return the packages of a lock, in its order."""
    found = []
    for block in re.split(r"\n(?=[A-Za-z0-9])", lock.read_text(encoding="utf-8").strip()):
        head = re.match(r"([A-Za-z0-9._-]+)(?:\[[^]]*\])?==([^ \\;]+)(?: ; ([^\\\n]+))?", block)
        if head:
            via = re.findall(r"^    #\s+(?:via )?([A-Za-z0-9._-]+)", block.replace("# via\n", "#\n"), re.MULTILINE)
            digests = tuple(re.findall(r"--hash=sha256:([0-9a-f]{64})", block))
            found.append(Package(head[1], head[2], (head[3] or "").strip(), digests, tuple(via)))
    return found


def licence(name: str) -> str:
    """Return the licence of an installed package as an SPDX expression.

    Raises
    ------
    SystemExit
        It is not installed, or its metadata names none that is known here.
    """
    try:
        about = metadata.metadata(name)
    except metadata.PackageNotFoundError:
        raise SystemExit(f"{name} is not installed here: make env, then again.") from None
    if about.get("License-Expression"):
        return str(about["License-Expression"])
    words = (about.get("License") or "").strip()
    classed = [one.rpartition("::")[2].strip() for one in about.get_all("Classifier", []) if one.startswith("License")]
    said = (
        OF_TEXT.get(name)
        or OF_WORDS.get(words)
        or next((OF_CLASSIFIER[one] for one in classed if one in OF_CLASSIFIER), "")
    )
    if not said:
        raise SystemExit(f"{name}: no licence known here from {words[:60]!r} and {classed}; add it to .ci/licences.py.")
    return said


def extras() -> list[tuple[str, str, str]]:
    """Return what only an extra asks for: extra, package, licence where it is in the development lock."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    locked = {one.name.replace("_", "-").lower() for one in packages(DEV_LOCK)}
    found = []
    for extra, asked in project["optional-dependencies"].items():
        for one in asked:
            name = re.split(r"[\[<>=; ]", one)[0].lower()
            if name != "asfound":
                found.append((extra, name, licence(name) if name in locked else "not in the locks: ask its metadata"))
    return found


def page(found: list[Package]) -> str:
    """Return the page."""
    rows = [f"| {one.name} | {one.version} | {licence(one.name)} | {one.marker or ''} |" for one in found]
    more = [f"| {extra} | {name} | {said} |" for extra, name, said in extras()]
    beside = [f"| {what} | {said} |" for what, said in BESIDE]
    return "\n".join(
        [
            "# What it is made of",
            "",
            "Made by `python .ci/licences.py` from `requirements.lock` and the metadata of what is installed; a test "
            "compares. asfound itself: Apache-2.0. Licences are SPDX expressions as each package states them; what a "
            "package carries inside (a numerical library's compiled parts) has further terms in its own licence "
            "files.",
            "",
            "The same as a software bill of materials: [sbom.cdx.json](sbom.cdx.json), CycloneDX 1.6, with the SHA-256 "
            "of every file that the lock allows. A package with two versions has one for each Python, as the last "
            "column says.",
            "",
            "| Package | Version | Licence | Where |",
            "|---|---|---|---|",
            *rows,
            "",
            "**Asked for by an extra only**, and installed by whoever wants it:",
            "",
            "| Extra | Package | Licence |",
            "|---|---|---|",
            *more,
            "",
            "**In the package itself, and not ours:**",
            "",
            "| What | Licence |",
            "|---|---|",
            *beside,
            "",
        ]
    )


def bill(found: list[Package]) -> dict[str, Any]:
    """Return the bill of materials."""
    version = re.search(r'__version__ = "([^"]+)"', (ROOT / "src/asfound/__init__.py").read_text(encoding="utf-8"))
    assert version
    digest = hashlib.sha256(LOCK.read_bytes()).hexdigest()
    refs: dict[str, list[str]] = {}
    for one in found:
        refs.setdefault(one.name, []).append(_purl(one))
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "serialNumber": f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_URL, f'asfound {version[1]} {digest}')}",
        "version": 1,
        "metadata": {
            "component": {
                "type": "application",
                "bom-ref": "asfound",
                "name": "asfound",
                "version": version[1],
                "licenses": [{"expression": "Apache-2.0"}],
            }
        },
        "components": [_component(one) for one in found],
        "dependencies": [
            {
                "ref": "asfound",
                "dependsOn": sorted({ref for one in found if "asfound" in one.needed_by for ref in refs[one.name]}),
            },
            *(
                {
                    "ref": _purl(one),
                    "dependsOn": sorted(
                        {ref for each in found if one.name in each.needed_by for ref in refs[each.name]}
                    ),
                }
                for one in found
            ),
        ],
    }


def _component(one: Package) -> dict[str, Any]:
    made = {
        "type": "library",
        "bom-ref": _purl(one),
        "name": one.name,
        "version": one.version,
        "purl": _purl(one),
        "licenses": [{"expression": licence(one.name)}],
        "hashes": [{"alg": "SHA-256", "content": digest} for digest in one.digests],
    }
    if one.marker:
        made["properties"] = [{"name": "asfound:marker", "value": one.marker}]
    return made


def _purl(one: Package) -> str:
    return f"pkg:pypi/{one.name}@{one.version}"


def files() -> dict[Path, str]:
    """Return both files as they are to be."""
    found = packages(LOCK)
    return {PAGE: page(found), BOM: json.dumps(bill(found), indent=1) + "\n"}


def main(words: list[str]) -> int:
    """Write the files, or with ``--check`` compare them."""
    wrong = []
    for path, text in files().items():
        if "--check" not in words:
            path.write_text(text, encoding="utf-8")
        elif not path.is_file() or path.read_text(encoding="utf-8") != text:
            wrong.append(f"{path.relative_to(ROOT)} is not what the lock says: python .ci/licences.py")
    print("\n".join(wrong) or "licences and bill of materials are as the lock says")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
