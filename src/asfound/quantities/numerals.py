"""Numbers as people write them: ``1 234,5``, ``3 1/2``, ``1,2·10³``, ``12.30(12)``, ``> 20.9``, ``N/A``.

The last of two different signs is the decimal sign. One sign alone is a group sign only where every group after it has
three digits; where exactly one such group follows and the number does not begin with 0, both readings are possible, and
the number is asked about unless the site has said which sign it uses. Space and apostrophe only ever part groups.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from typing import Literal

from asfound.errors import AmbiguousError, InputError
from asfound.quantities.unit_text import raised

DecimalSign = Literal["point", "comma", ".", ","]
Grouping = Literal["thousands", "indian"]
Censored = Literal["", "above", "below"]

MISSING = {
    "": "empty", "-": "not measured", "--": "not measured", "---": "not measured", "n/a": "not measured",
    "na": "not measured", "n.a.": "not measured", "n.b.": "not measured", "k.a.": "not measured", "nan": "not measured",
    "none": "not measured", "null": "not measured", "not measured": "not measured", "not taken": "not measured",
    "not read": "not measured", "could not read": "could not read", "unreadable": "could not read",
    "?": "could not read",
    "missing": "not measured",
}  # fmt: skip
_MARK = re.compile(
    r"(?P<above>>=|=>|≥|>|above\b|over\b|more than\b|at least\b|über\b)"
    r"|(?P<below><=|=<|≤|<|below\b|under\b|less than\b|at most\b|unter\b)"
    r"|(?P<about>~|≈|about\b|approx\.?(?!\w)|approximately\b|ca\.?(?!\w)|circa\b|etwa\b)",
    re.IGNORECASE,
)
_SIGN = r"(?P<sign>[+-]?)\s*"
_BODY = re.compile(_SIGN + r"(?P<body>\d(?:[.,' ]?\d)*(?:[.,](?!\w))?|[.,]\d+)")
_FRACTION = re.compile(_SIGN + r"(?:(?P<whole>\d+)(?:\s+|\s*-\s*))?(?P<over>\d+)\s*/\s*(?P<under>\d+)(?![\d.,])")
_EXPONENT = re.compile(
    r"[eE](?P<power>[+-]?\d+)(?!\w)|\s*[x×·⋅*]\s*10\s*(?:(?:\^|\*\*)\s*\(?(?P<up>[+-]?\d+)\)?|(?P<signed>[+-]\d+))"
)
_CONCISE = re.compile(r"\((?P<last>\d+)\)")
_GROUPS = {"thousands": r"\d{1,3}(?:%s\d{3})+", "indian": r"\d{1,2}(?:%s\d{2})*%s\d{3}"}
_DENOMINATORS = frozenset({2, 3, 4, 5, 6, 8, 10, 12, 16, 32, 64})
PLUS_MINUS = re.compile(r"\s*(?:±|\+\s*/\s*-|\+-)\s*")
_TRANSLATE = str.maketrans(
    {"−": "-", "–": "-", "‐": "-", "‑": "-", "’": "'", "‘": "'", "´": "'", "`": "'", "⁄": "/", "٬": "'"}
)
LONGEST = 120
_SIGN_OF = {"point": ".", "comma": ",", ".": ".", ",": ","}
_ARABIC_POINT = "٫"


@dataclass(frozen=True, slots=True)
class Number:
    """A number as typed. ``value`` is None only where it is ``missing``."""

    value: float | None
    text: str = ""
    """The plain number, with a point: what it was taken for."""
    standard_uncertainty: float | None = None
    """From the short form 12.30(12) (JCGM 100:2008 7.2.2)."""
    plus_minus: float | None = None
    """What stands behind ±. Its meaning (standard, 95 %, limit) is not in the text."""
    censored: Censored = ""
    about: bool = False
    missing: bool = False
    missing_because: str = ""


def parse_number(
    text: str, *, decimal: DecimalSign | None = None, grouping: Grouping = "thousands", field: str = "number"
) -> Number:
    """Return the number that a text without unit holds.

    Parameters
    ----------
    text : str
        As typed.
    decimal : {'point', 'comma', '.', ','}, optional
        The site's decimal sign; without it ``1.234`` is ambiguous.
    grouping : {'thousands', 'indian'}
        Indian grouping (``1,23,456``) is read only where it is set.
    field : str
        Name of the field, for the complaint.

    Raises
    ------
    AmbiguousError
        Two readings are possible; its ``choices`` are plain texts.
    InputError
        It is no number.

    Examples
    --------
    >>> parse_number("1 234,5").value, parse_number("3 1/2").value, parse_number("N/A").missing
    (1234.5, 3.5, True)
    """
    refuse_long(text, field)
    absent = missing(text)
    if absent:
        return absent
    number, rest = leading(text, decimal=decimal, grouping=grouping, field=field)
    assert number.value is not None
    behind = PLUS_MINUS.match(rest)
    if behind:
        other, rest = leading(
            rest[behind.end() :], decimal=decimal, grouping=grouping, field=field, before=f"{number.text} ± "
        )
        half = abs(other.value or 0.0)
        if rest.strip() == "%":
            half, rest = abs(number.value) * half / 100, ""
        number = replace(number, plus_minus=half)
    if rest.strip():
        raise InputError(field, text, f"has '{rest.strip()}' behind the number", allowed="a number without unit")
    return number


def refuse_long(text: str, field: str) -> None:
    """Refuse a text that is too long for one number with its unit: a whole table pasted, or an attack."""
    if len(text) > LONGEST:
        raise InputError(
            field, f"{text[:20]}...", f"is {len(text):,} characters long", allowed=f"up to {LONGEST}",
            try_next="Type one reading with its unit; put the rest into a note.",
        )  # fmt: skip


def missing(text: str) -> Number | None:
    """Return the number that is missing, with its reason, when the text says so; an empty cell is missing, not zero."""
    because = MISSING.get(clean(text).casefold())
    return Number(None, missing=True, missing_because=because) if because else None


def clean(text: str) -> str:
    """Return a text with one kind of space, dash and apostrophe, ASCII digits, fractions and powers spelled out."""
    spelled = "".join(_spelled(sign) for sign in text)
    normal = unicodedata.normalize("NFKC", raised(spelled.replace("º", "°"))).translate(_TRANSLATE)
    return "".join(str(unicodedata.digit(c)) if c.isdigit() and not c.isascii() else c for c in normal).strip()


def _spelled(sign: str) -> str:
    if sign in "″′":  # inch and foot would fall apart under NFKC
        return {"″": '"', "′": "'"}[sign]
    if sign.isascii() or not unicodedata.decomposition(sign).startswith("<fraction>"):
        return sign
    return " " + unicodedata.normalize("NFKC", sign).replace("⁄", "/")


def split_mark(text: str) -> tuple[Censored, bool, str]:
    """Return what stands before a number (above, below, about) and the rest of a clean text."""
    mark = _MARK.match(text)
    if not mark:
        return "", False, text
    rest = text[mark.end() :].strip()
    return ("above" if mark["above"] else "below" if mark["below"] else ""), bool(mark["about"]), rest


def leading(
    text: str, *, decimal: DecimalSign | None, grouping: Grouping = "thousands", field: str, before: str = ""
) -> tuple[Number, str]:
    """Return the number at the head of a text and what follows it; raises as `parse_number`.

    ``before`` is what stands in front of ``text`` in the field: a complaint and its choices quote the whole.
    """
    cleaned, given = clean(text), before + text
    if cleaned.startswith("#"):
        raise InputError(
            field, given, "is an error of a spreadsheet", try_next="Mend the cell it comes from, or leave it empty."
        )
    if _ARABIC_POINT in cleaned:
        cleaned, decimal = cleaned.replace(_ARABIC_POINT, "."), "point"
    censored, about, cleaned = split_mark(cleaned)
    fraction = _FRACTION.match(cleaned)
    if fraction:
        number, rest = _fraction(fraction, given, field), cleaned[fraction.end() :]
    else:
        number, rest = _plain(cleaned, given, decimal, grouping, field, before)
    return replace(number, censored=censored, about=about), rest


def _fraction(found: re.Match[str], given: str, field: str) -> Number:
    over, under = int(found["over"]), int(found["under"])
    if under not in _DENOMINATORS or over >= under:
        raise InputError(
            field, given, "is no fraction that a rule or gauge has", allowed="1/2, 3 1/2, 5/16; or decimals"
        )
    value = int(found["whole"] or 0) + over / under
    value = -value if found["sign"] == "-" else value
    return Number(value, repr(value))


def _plain(
    cleaned: str, given: str, decimal: DecimalSign | None, grouping: Grouping, field: str, before: str
) -> tuple[Number, str]:
    found = _BODY.match(cleaned)
    if not found:
        raise InputError(
            field, given, "does not begin with a number",
            try_next="Look for a letter in place of a digit (l for 1, O for 0).",
        )  # fmt: skip
    rest = cleaned[found.end() :]
    exponent = _EXPONENT.match(rest)
    power = int(exponent["power"] or exponent["up"] or exponent["signed"]) if exponent else 0
    rest = rest[exponent.end() :] if exponent else rest
    digits = _digits(found, given, decimal, grouping, field, (before, rest))
    text = f"{'-' if found['sign'] == '-' else ''}{digits}{f'e{power}' if power else ''}"
    concise = _CONCISE.match(rest)
    if not concise:
        return Number(float(text), text), rest
    decimals = len(digits.partition(".")[2])
    return Number(float(text), text, float(f"{concise['last']}e{power - decimals}")), rest[concise.end() :]


def _digits(
    found: re.Match[str],
    given: str,
    decimal: DecimalSign | None,
    grouping: Grouping,
    field: str,
    around: tuple[str, str],
) -> str:
    """Return the digits with a point at most, or raise: the one place where the meaning of a sign is decided."""
    body = found["body"].rstrip(".,") if found["body"][-1] in ".," else found["body"]
    signs = [sign for sign in body if not sign.isdigit()]
    kinds = set(signs)
    wrong = InputError(
        field, given, "has groups of digits that are no thousands" if signs else "is no number",
        allowed="1234.5, 1 234,5, 1,234.5",
    )  # fmt: skip
    if not kinds:
        return body
    last = signs[-1]
    if len(kinds) == 2 and last in ".," and signs.count(last) == 1:
        whole, _, decimals = body.rpartition(last)
        if _grouped(whole, (kinds - {last}).pop(), grouping):
            return "".join(filter(str.isdigit, whole)) + "." + decimals
        raise wrong
    only_groups = last in " '" or signs.count(last) > 1
    if len(kinds) > 1 or (only_groups and not _grouped(body, last, grouping)):
        raise wrong
    if only_groups:
        return "".join(filter(str.isdigit, body))
    as_decimal, as_group = body.replace(last, "."), body.replace(last, "")
    if not _grouped(body, last, "thousands") or body.startswith("0"):
        return as_decimal if as_decimal[0] != "." else f"0{as_decimal}"
    if decimal is not None:
        return as_decimal if _SIGN_OF[decimal] == last else as_group
    raise _ambiguous(found["sign"], as_decimal, as_group, given, field, around)


def _grouped(body: str, sign: str, grouping: Grouping) -> bool:
    pattern = _GROUPS[grouping].replace("%s", re.escape(sign))
    return re.fullmatch(pattern, body) is not None


def _ambiguous(
    sign: str, as_decimal: str, as_group: str, given: str, field: str, around: tuple[str, str]
) -> AmbiguousError:
    minus = "-" if sign == "-" else ""
    before, rest = around
    choices = {
        f"{before}{minus}{as_group}{rest}": f"{minus}{int(as_group):,}: the sign parts thousands",
        f"{before}{minus}{as_decimal}0{rest}": f"{minus}{as_decimal}: the sign parts decimals",
    }
    return AmbiguousError(
        field, given, "can be read in two ways", choices=choices,
        try_next="Choose one, or set the decimal sign of the site.",
    )  # fmt: skip
