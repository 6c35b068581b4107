"""Refuse a file that names a package registry: all must work with whatever index the reader's pip is set to."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

HOSTS = re.compile(
    r"pypi[.]org|pythonhosted[.]org|registry[.]npmjs|yarnpkg[.]com|deb[.]debian[.]org|crates[.]io/|proxy[.]golang"
    r"|repo1?[.]maven|index[-_]url\s*=\s*.?https?:|extra-index-url[= ]+.?https?:",
    re.IGNORECASE,
)
IN_A_LOCK = re.compile(r"://|--(extra-)?index-url|--find-links|^-[fi]\s", re.MULTILINE)


def faults(path: Path) -> list[str]:
    """Return one line per place in a text file that names a host; nothing for a file that is not text."""
    try:
        text = path.read_text(encoding="utf-8")
    except (UnicodeDecodeError, IsADirectoryError, FileNotFoundError):
        return []
    pattern = re.compile(f"{HOSTS.pattern}|{IN_A_LOCK.pattern}", re.I | re.M) if path.suffix == ".lock" else HOSTS
    return [
        f"{path}:{text.count(chr(10), 0, found.start()) + 1}: names a registry or an address: {found.group(0)!r}"
        for found in pattern.finditer(text)
    ]


def main(names: list[str]) -> int:
    """Check the files named, or every file that git knows; print what is wrong and return 1 if anything is."""
    if not names:
        listed = subprocess.run(["git", "ls-files", "-z"], check=True, capture_output=True, text=True).stdout
        names = [name for name in listed.split("\0") if name and name != ".ci/no_hosts.py"]
    wrong = [line for name in names for line in faults(Path(name))]
    print("\n".join(wrong) if wrong else f"{len(names)} files: no registry host named")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
