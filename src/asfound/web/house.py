"""What all pages stand on: the record of one home, its catalogue, and the addresses of engines and visits."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from asfound.errors import UnknownNameError
from asfound.web import words
from asfound.web.held_pages import HeldPages

if TYPE_CHECKING:
    from pathlib import Path

    from asfound.fitout.catalogue import Catalogue
    from asfound.quantities.findings import Case
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, VisitRecord
    from asfound.records.visit import VisitView
    from asfound.web.ahead import Ahead

NOT_AS_ADDRESS = {"new", ".", ".."}
"""Tags that would be read as something else in an address; such an engine is addressed by its identifier."""


class House:
    """One home, as the pages see it."""

    def __init__(self, records: Records, *, who: str, catalogue_folder: str | Path | None = None) -> None:
        self.own, self.who, self.catalogue_folder = records, who, catalogue_folder
        self.records = records
        """What the pages show: the home's own record, or that of the demo beside it."""
        self.held = HeldPages()
        """Pages as they were made, for as long as nothing changes."""
        self.ahead: Ahead | None = None
        """Who works out visits ahead of being asked; None: pages wait for what they show."""

    @property
    def in_demo(self) -> bool:
        """Whether the demo is shown in place of the home's own record."""
        return self.records is not self.own

    def show_demo(self) -> None:
        """Show the demo world, made beside the home's own record the first time; none of it gets into that."""
        from asfound.records.demo import make_demo_home
        from asfound.records.home import Home
        from asfound.records.store import Records

        folder = self.own.home.folder / "demo"
        if not Home(folder).exists:
            make_demo_home(folder)
        self.records = Records.open(folder)

    def leave_demo(self) -> None:
        """Show the home's own record again."""
        if self.in_demo:
            self.records.close()
            self.records = self.own

    @cached_property
    def catalogue(self) -> Catalogue:
        """What can be fitted, loaded when the first page asks."""
        from asfound.fitout.catalogue import load_catalogue

        return load_catalogue(self.catalogue_folder)

    @cached_property
    def _titles(self) -> dict[str, str]:
        """Titles of generations and kits; of the packaged catalogue kept, for the first page names them."""
        from asfound.records.kept_store import kept_store, program_stamp

        store = kept_store(self.own) if self.catalogue_folder is None else None
        found = store.get("titles", {"": program_stamp()}).get("") if store else None
        if found is None:
            known = self.catalogue
            found = {name: one.title for name, one in known.kits.items()}
            found |= {name: one.title for name, one in known.generations.items()}
            if store:
                store.put("titles", "", program_stamp(), found)
        return dict(found)

    def told(self, generation: str) -> str:
        """Return a generation or kit in the words of the catalogue; what the catalogue does not know stays as it is."""
        return self._titles.get(generation, generation)

    # ------------------------------------------------------------------ addresses

    def engine_list(self) -> tuple[EngineRecord, ...]:
        """Return the engines by site and tag."""
        return self.records.engines()

    def engine_key(self, engine: EngineRecord) -> str:
        """Return what stands for an engine in an address: its tag where that is enough."""
        alone = self.records.tags(engine.tag) == 1
        return engine.tag if alone and engine.tag not in NOT_AS_ADDRESS else engine.id

    def engine_base(self, engine: EngineRecord) -> str:
        """Return the address of an engine's page."""
        return f"/engines/{self.engine_key(engine)}"

    def visit_base(self, visit: VisitRecord, engine: EngineRecord | None = None) -> str:
        """Return the address of a visit's page: engine and day."""
        engine = engine or self.records.engine(visit.engine)
        return f"{self.engine_base(engine)}/{visit.name.rsplit('/', 1)[1]}"

    def visit(self, engine_key: str, day: str) -> tuple[EngineRecord, VisitRecord]:
        """Return engine and visit of an address.

        Raises
        ------
        UnknownNameError
            There is no such engine, or it has no visit of that day.
        """
        engine = self.records.engine(engine_key)
        known = self.records.visits(engine.id)
        for one in known:
            if day in (one.name.rsplit("/", 1)[1], one.id):
                return engine, one
        raise UnknownNameError(f"visit to {engine.tag}", day, [one.name.rsplit("/", 1)[1] for one in known])

    # ------------------------------------------------------------------ what the record says

    def view(self, visit_id: str) -> VisitView:
        """Return everything about a visit, computed afresh when an entry was added and remembered until then."""
        from asfound.records.visit import view

        return view(self.records, visit_id)

    def case(self, visit_id: str) -> Case:
        """Return a visit as the rooms take it, without waiting for what they find of it."""
        from asfound.records.visit import case_of

        return case_of(self.records, visit_id)

    def kept_at(self) -> str:
        """Return the time of day of the newest entry, empty in a new home."""
        newest = self.records.newest_id()
        return words.clock(self.records.entry(newest).at) if newest else ""
