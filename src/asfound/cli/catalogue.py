"""`asfound catalogue`: tools for whoever writes a catalogue."""

from __future__ import annotations

from cyclopts import App

catalogue = App(name="catalogue")
