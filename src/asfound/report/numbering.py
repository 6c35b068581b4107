"""The numbered list of sources: each source once, in the order in which the sheets refer to it."""

from __future__ import annotations

from asfound.errors import UnknownNameError
from asfound.sources.register import cite


class Sources:
    """Collects what the sheets refer to."""

    def __init__(self) -> None:
        self._texts: list[str] = []

    def number(self, key: str, clause: str = "") -> int:
        """Return the number of a source in the list, adding it at first use.

        Parameters
        ----------
        key : str
            Key in the register of sources; a text that is no key (a permit, a document of the site) is taken as it is.
        """
        return self._of(_text(key, clause))

    def mark(self, key: str, clause: str = "") -> str:
        """Return ``[3]``; empty where there is no source to name."""
        return f"[{self.number(key, clause)}]" if key else ""

    def _of(self, text: str) -> int:
        if text not in self._texts:
            self._texts.append(text)
        return self._texts.index(text) + 1

    @property
    def texts(self) -> tuple[str, ...]:
        """All of them, in order."""
        return tuple(self._texts)


def _text(key: str, clause: str) -> str:
    try:
        return cite(key, clause)
    except UnknownNameError:
        return f"{key}, {clause}" if clause else key
