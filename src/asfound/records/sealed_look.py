"""What was known of an engine's log when a visit was closed: kept among the files of the record, named in the seal.

A look that is worked out later, for whatever day, is no part of a sealed visit; pages show it apart.
"""

from __future__ import annotations

import json
import zlib
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from asfound.errors import AsFoundError
from asfound.records.logs_of_engine import kept_look_of

if TYPE_CHECKING:
    from asfound.history.look_parts import EngineLook
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, VisitRecord

LARGEST = 64 * 1024 * 1024
"""Of a look that is unpacked; a real one has half a megabyte. [byte]"""


def look_for_seal(records: Records, engine: EngineRecord) -> dict[str, Any] | None:
    """Keep the look that is known now as a file of the record, and return how it stands in a seal; None without one."""
    look = kept_look_of(records, engine)
    if look is None:
        return None
    from asfound.history.plain import to_plain

    text = json.dumps(to_plain(look), ensure_ascii=False, sort_keys=True)
    content = zlib.compress(text.encode(), 9)
    return {"day": look.day, "digest": look.digest, "file": records.files.put(content), "size": len(content)}


def look_known_at_seal(records: Records, visit: VisitRecord, problems: list[str] | None = None) -> EngineLook | None:
    """Return the look that was known when a visit was closed; None where there was none, or where it cannot be read."""
    named = (visit.sealed.content if visit.sealed else {}).get("log")
    if not named:
        return None
    try:
        found = _unpacked(records.attachment(str(named["file"])))
    except (AsFoundError, OSError, ValueError, KeyError, TypeError, zlib.error):
        found = None
    if found is None and problems is not None:
        problems.append(
            f"What was known of the log when this visit was closed (up to {named.get('day', '?')}) cannot be read: its "
            "file is not in this home, or is of another version of the program."
        )
    return found


@lru_cache(maxsize=8)
def _unpacked(content: bytes) -> EngineLook | None:
    from asfound.history.look_parts import EngineLook
    from asfound.history.plain import from_plain

    unpack = zlib.decompressobj()
    text = unpack.decompress(content, LARGEST)
    return None if unpack.unconsumed_tail else from_plain(EngineLook, json.loads(text))
