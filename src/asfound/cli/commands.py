"""The commands: name, where each is written, what it does. The one list behind --help, completion, docs and tests."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

GROUPS = (
    "Begin",
    "Engines",
    "A visit",
    "Logs",
    "What is fitted",
    "Hand over",
    "Reckon without a record",
    "Evidence and sources",
)


@dataclass(frozen=True, slots=True)
class Command:
    """A word after `asfound`."""

    name: str
    opens: str
    """``module:function`` or ``module:app``, imported when the command is called."""
    says: str
    group: str
    settings: dict[str, Any] = field(default_factory=dict)


def _in(group: str, *rows: tuple[str, str, str]) -> tuple[Command, ...]:
    return tuple(Command(name, f"asfound.cli.{opens}", says, group) for name, opens, says in rows)


COMMANDS: tuple[Command, ...] = (
    *_in(
        "Begin",
        ("serve", "serve:serve", "Open the pages in a browser on this machine."),
        ("demo", "homes:demo", "Make a home with seven invented engines and their visits."),
        ("demo-logs", "demo_logs:demo_logs", "Write 30 months of logs of the invented engines, as files."),
        ("ahead", "ahead:ahead", "Make the pages of visits now, to be there at once when somebody opens them."),
        ("home", "homes:home", "Say where the record lies, and what is in it."),
        ("home-lock", "locks:home_lock", "Lock this home: nobody reads it without the passphrase."),
        ("home-unlock", "locks:home_unlock", "Make a locked home plain again."),
        ("home-passphrase", "locks:home_passphrase", "Give a locked home another passphrase."),
        ("completion", "homes:completion", "Print the completion script for bash, zsh, fish or PowerShell."),
    ),
    *_in(
        "Engines",
        ("engines", "engines:engines", "List the engines: what the plate says, what is believed, last visit."),
        ("engine", "engines:engine", "Add an engine, correct it, show it."),
        ("site", "engines:site", "Add a site, list the sites."),
        ("limit", "limits:limit", "Add a limit from a permit or rating, list those of an engine."),
        ("rules", "rules:rules", "Show which general rules concern an engine; put one on the record."),
        ("due", "due_fleet:due", "Show what is due, the stops and the oil; say what was done, sampled, ordered."),
        ("upgrade", "upgrade:upgrade", "Compare targets of an upgrade: the way, what follows, what it is worth."),
        ("instrument", "instruments:instrument", "Add an instrument with its specification, list them."),
    ),
    *_in(
        "A visit",
        ("visit", "visits:visit", "Open a visit, show it, what is next, what the engine did, seal it, verify it."),
        ("take", "takes:take", "Take readings, as found or as left."),
        ("gas", "gas:gas", "Read a gas analysis, take it into a visit, compare, mix; logs and limits of gas quality."),
        ("note", "notes:note", "Keep a note."),
        ("photo", "notes:photo", "Keep a photo or a file."),
        ("setting", "notes:setting", "Keep a set point or the version of a file, as it stands in the controls."),
        ("point", "points:point", "Add an open point, close it, list them."),
        ("results", "results:results", "Show the results with interval, limit and source; one with its whole trail."),
        ("emission-test", "emission_tests:emission_test", "Judge a formal test of several runs; bring it in."),
        ("method", "methods:method", "Show how far several ways to one number agree; choose the way that is taken."),
        ("crosscheck", "crosscheck:crosscheck", "Say which reading lies, and what the others make of each."),
        ("judge", "judge:judge", "Judge a reading false: it stays, and numbers go without it; or sound again."),
        ("trouble", "trouble_known:trouble", "Say what is wrong, what to try next, what was tried, how a case ended."),
        ("what-if", "what_if:what_if", "Ask what a change of timing, mixture, charge air, gas or power would do."),
        ("findings", "results:findings", "Show what the results mean, by when a hand is needed."),
        ("decide", "results:decide", "Keep what was decided about a finding."),
        ("undo", "notes:undo", "Take an entry back; the line stays readable."),
        ("settle", "bundles:settle", "Settle what two laptops wrote apart: show both sides, say what stands."),
    ),
    *_in(
        "Logs",
        ("log", "logs:log", "Say what there is of an engine's log: imports, channels, looks."),
        ("log-import", "log_import:log_import", "Take logs and alarm lists in, or an import back."),
        ("log-mapping", "log_import:log_mapping", "Say what every column of a log is taken for, as a file to edit."),
        ("log-look", "logs:log_look", "Work out what a log says up to a day: drifts, steps, limits, sensors, stops."),
        ("log-visits", "log_visits:log_visits", "Before and after each visit by the log: did the repair work?"),
        ("log-fleet", "logs:log_fleet", "Look at the logs of all engines; those that want a hand first."),
        ("log-check", "log_check:log_check", "Compare the files of the logs with what was written."),
        ("log-follow", "log_follow:log_follow", "Follow a log that grows, or read registers by Modbus/TCP."),
    ),
    *_in(
        "What is fitted",
        ("look", "looks:look", "Keep what was seen of a component, and how."),
        ("places", "looks:places", "List the components to look at, their characters and states."),
        ("fitted", "fitted:fitted", "Say what is fitted, how sure, why, what to look at next, what follows."),
        ("identify", "identify:identify", "The same from a file of observations, without a record."),
        ("catalogue", "catalogue:catalogue", "Check a catalogue, print it as a tree, simulate it, fit it, draft one."),
    ),
    *_in(
        "Hand over",
        ("report", "reports:report", "Write the report of a visit, or the document of one of its readers."),
        ("time", "time_spent:time", "Keep hours for the office: travel, waiting, writing; whether warranty bears it."),
        ("export", "handover:export", "Write a visit as JSON or CSV."),
        ("export-build", "export_build:export_build", "Write what is fitted as an Asset Administration Shell."),
        ("bring-in", "handover:bring_in", "Bring in a visit that was written elsewhere."),
        ("addendum", "handover:addendum", "Add to a sealed visit."),
        ("bundle-out", "bundles:bundle_out", "Write one file with engines, visits or the whole home."),
        ("bundle-in", "bundles:bundle_in", "Take in such a file; what clashes is shown, nothing is lost."),
        ("backup", "copies:backup", "Copy the record while programs write, and check the copy."),
        ("restore", "copies:restore", "Put a backup where no record is."),
        ("move-home", "copies:move_home", "Copy everything from a folder to a database, or back."),
        ("people", "office:people", "Say who of an office may read, write, seal; list what was done at the door."),
        ("office", "office:office", "Serve the pages to several people, who sign in."),
    ),
    Command(
        "calc", "asfound.cli.calc:calc", "Work out a worksheet from values typed here.", "Reckon without a record",
        {"help_flags": ()},  # `calc WORKSHEET --help` shows the worksheet, which no fixed help text could
    ),
    *_in(
        "Evidence and sources",
        ("prove", "prove:prove", "Recompute every published value shipped with the program."),
        ("quantities", "registers:quantities", "List the quantities, or show one: units, range, source."),
        ("units", "registers:units", "List the units, or those that fit a quantity."),
        ("sources", "registers:sources", "List the published sources, or show one."),
    ),
)  # fmt: skip
