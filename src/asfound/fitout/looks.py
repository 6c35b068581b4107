"""What somebody saw, or looked for and did not find, or could not judge, and how they know it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal, get_args

from asfound.errors import InputError

Answer = Literal["seen", "not_there", "not_judged"]
How = Literal["read", "in_hand", "at_part", "from_3m", "photo", "said", "plate", "paper"]
ANSWERS: tuple[Answer, ...] = get_args(Answer)
HOWS: tuple[How, ...] = get_args(How)

HOW_TITLES: dict[How, str] = {
    "read": "number read off the part",
    "in_hand": "in the hand",
    "at_part": "at the part",
    "from_3m": "from 3 m",
    "photo": "in a photo",
    "said": "somebody said",
    "plate": "on the nameplate",
    "paper": "on paper",
}
STATEMENT_SLOTS = ("nameplate", "block", "word")
"""Not places of a part: they speak about the whole engine (its plate, the number in the block, what somebody says)."""
SOMETHING_ELSE = "something_else"
"""The state 'something else': seen, and none of the pictures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenLook:
    """One look as recorded: a character of a slot, the answer, and how it was seen."""

    slot: str
    """Slot of the catalogue or of the generic list; ``nameplate``, ``block``, ``word`` speak of the whole engine."""
    character: str = ""
    """Character of the slot; empty with ``not_there`` or ``not_judged``: the slot as a whole."""
    answer: Answer = "seen"
    states: tuple[str, ...] = ()
    """States ticked; several when the eye wavers. ``something_else``: none of the catalogue's."""
    how: How = "at_part"
    label: str = ""
    """Text as far as it can be read: ``?`` for a character that cannot be made out, ``.`` for one that is gone."""
    by: str = ""
    source: str = ""
    """One witness with several statements (a plate, a person): the same word in each of its looks."""
    time: str = ""
    note: str = ""
    entry: str = ""
    """Identifier of the entry of the record that holds it."""
    age: float = 0.0
    """Years since it was seen, where an earlier visit saw it; 0 for a look of this visit. What has been exchanged since
    without a word makes it worth less."""

    def __post_init__(self) -> None:
        if self.answer not in ANSWERS:
            raise InputError("answer", str(self.answer), "is no answer of a look", allowed=", ".join(ANSWERS))
        if self.how not in HOWS:
            raise InputError("how", str(self.how), "is no way of seeing", allowed=", ".join(HOWS))
        states: object = self.states
        if not self.age >= 0:
            raise InputError("age", str(self.age), "is no time that has passed", allowed="0 years and more")
        if isinstance(states, str):
            raise InputError(
                "states", states, "is one text where a list of states is wanted", try_next=f"Write ['{states}']."
            )

    def as_dict(self) -> dict[str, Any]:
        """Return the fields as plain values (JSON-ready), empty ones left out."""
        plain = {name: list(value) if isinstance(value, tuple) else value for name, value in asdict(self).items()}
        return {name: value for name, value in plain.items() if value not in ("", [], 0.0)}
