"""Verify the seal of an exported visit without asfound: python verify_record.py RECORD.json (standard library only)."""

import base64
import hashlib
import json
import sys
from decimal import Decimal
from pathlib import Path


def number(x):
    """Write a number as RFC 8785 does."""
    if x == int(x) and abs(x) < 2**53:
        return str(int(x))
    sign, digits, exponent = Decimal(repr(x)).normalize().as_tuple()
    digits = "".join(map(str, digits))
    point = len(digits) + exponent
    if -6 < point <= 0:
        text = "0." + "0" * -point + digits
    elif 0 < point <= 21:
        text = digits[:point].ljust(point, "0") + ("." + digits[point:] if digits[point:] else "")
    else:
        text = digits[0] + ("." + digits[1:] if digits[1:] else "") + f"e{point - 1:+d}"
    return "-" * sign + text


def canonical(x):
    """Write a value in the canonical form of RFC 8785."""
    if isinstance(x, dict):
        pairs = sorted(x.items(), key=lambda pair: pair[0].encode("utf-16-be"))
        return "{" + ",".join(canonical(key) + ":" + canonical(value) for key, value in pairs) + "}"
    if isinstance(x, list):
        return "[" + ",".join(map(canonical, x)) + "]"
    return number(x) if type(x) in (int, float) else json.dumps(x, ensure_ascii=False)


def digest(x):
    """Return the SHA-256 of bytes or of a value's canonical form."""
    return hashlib.sha256(x if isinstance(x, bytes) else canonical(x).encode()).hexdigest()


record = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
seal = next(entry["content"] for entry in record["entries"] if entry["kind"] == "sealed")
there = {entry["id"]: digest(entry) for entry in record["context"] + record["entries"]}
listed = {line["id"]: line["digest"] for line in seal["context"] + seal["entries"]}
wrong = [f"entry {one} is missing or changed" for one in listed if there.get(one) != listed[one]]
open_kinds = ("sealed", "addendum")
added = [one["id"] for one in record["entries"] if one["id"] not in listed and one["kind"] not in open_kinds]
wrong += [f"entry {one} was added" for one in added]
files = {one["digest"]: base64.b64decode(one["content"]) for one in record["files"] if "content" in one}
wrong += [f"file {one} is changed" for one, content in files.items() if digest(content) != one]
if digest({key: value for key, value in seal.items() if key not in ("digest", "signature")}) != seal["digest"]:
    wrong.append("the seal itself is changed")
print("\n".join(wrong) or f"holds: {len(seal['entries'])} entries under {seal['digest']}")
sys.exit(bool(wrong))
