"""What documents for readers are made from: the visit, and what its record holds beside it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cached_property
from io import BytesIO
from typing import TYPE_CHECKING, Any

from asfound.errors import AsFoundError, RecordError
from asfound.report.content_due import DueShown, due_shown
from asfound.report.content_upgrade import UpgradeShown, upgrade_shown

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.visit import VisitView
    from asfound.report.wording import System

THUMB = 480
"""Longest side of a photo on paper. [px]"""
MOST_PIXELS = 120_000_000


@dataclass(frozen=True, kw_only=True)
class Ground:
    """A visit with the record around it; what was written after its seal is left out, but for time typed for it."""

    kept: Records | None
    """None: only what the view itself holds is asked for."""
    view: VisitView
    system: System

    @property
    def records(self) -> Records:
        """The record of the home.

        Raises
        ------
        RecordError
            The document needs more than the view, and no record was given.
        """
        if self.kept is None:
            raise RecordError("This document needs the record of the home, not the visit alone.")
        return self.kept

    @cached_property
    def due(self) -> DueShown:
        """Upkeep in words, as of the visit."""
        return due_shown(self.view.due)

    @property
    def day(self) -> date:
        """Day of the visit."""
        return date.fromisoformat(self.view.visit.date)

    @property
    def failures(self) -> Sequence[Mapping[str, Any]]:
        """Failures on the record of the engine, newest first; each with its ``entry``."""
        return self._dated("failures")

    @property
    def orders(self) -> Sequence[Mapping[str, Any]]:
        """Orders for work, newest first."""
        return self._dated("work_orders")

    def _dated(self, name: str) -> list[Mapping[str, Any]]:
        found: Sequence[Mapping[str, Any]] = self.view.case.visit.get(name, ())
        return sorted(found, key=lambda one: (str(one["date"]), str(one.get("entry"))), reverse=True)

    @cached_property
    def time_spent(self) -> tuple[Entry, ...]:
        """Hours that somebody typed for this visit, by day."""
        from asfound.records.upkeep_of_engine import of_kind

        found = of_kind(self.records, self.view.engine.id, "time_spent")
        return tuple(one for one in found if one.content["visit"] == self.view.id)

    @cached_property
    def upgrade(self) -> UpgradeShown:
        """The study of an upgrade by what this visit believes; its ``problem`` says why there is none."""
        from asfound.records.upgrade_of_engine import upgrade_of_visit

        return upgrade_shown(upgrade_of_visit(self.records, self.view))

    @cached_property
    def written(self) -> tuple[int, datetime]:
        """How many entries of the engine stand behind the document, and when the newest of them was written."""
        entries = list(self.records.entries(self.view.engine.id))
        if self.view.seal is not None:
            entries = [one for one in entries if one.id <= self.view.seal.id]
        moment = datetime.fromisoformat(entries[-1].at).astimezone(UTC).replace(microsecond=0)
        return len(entries), moment

    def photo(self, digest: str) -> bytes | None:
        """Return a photo of the record as small JPEG; None where it is not here or no picture."""
        from PIL import Image, ImageOps, UnidentifiedImageError

        try:
            content = self.records.attachment(digest)
            with Image.open(BytesIO(content)) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    return None
                turned = ImageOps.exif_transpose(opened).convert("RGB")
        except (
            AsFoundError,
            UnidentifiedImageError,
            Image.DecompressionBombError,
            OSError,
            ValueError,
            SyntaxError,
            TypeError,
            KeyError,
            IndexError,
            EOFError,
            ZeroDivisionError,
            OverflowError,
            MemoryError,
        ):
            return None
        turned.thumbnail((THUMB, THUMB))
        out = BytesIO()
        turned.save(out, "JPEG", quality=82)
        return out.getvalue()
