"""All pictures under one name; see README.md of this room."""

from __future__ import annotations

from asfound.report.agreement import Lane, lanes
from asfound.report.axis import Band, Mark, Wall
from asfound.report.bars import Share, belief_bar, belief_row, share_bar, weights_bar
from asfound.report.beam import Leaning, beam
from asfound.report.belief_fork import Branch, Outcome, belief_fork
from asfound.report.belief_steps import Line, belief_steps
from asfound.report.crosscheck_lane import crosscheck_bar, crosscheck_lane, crosscheck_share
from asfound.report.crosscheck_net import crosscheck_net
from asfound.report.day import DayEvent, DaySpan, day_line
from asfound.report.drawing import engine_drawing, mini_drawing
from asfound.report.due_lane import due_head, due_lane
from asfound.report.engine_plan import DrawnSlot, EngineDrawing, Tag
from asfound.report.engine_plan import caption as drawing_caption
from asfound.report.gas_bars import Component, Part, gas_bars
from asfound.report.habit import Kept, Row, habit
from asfound.report.history_frame import history_events
from asfound.report.history_row import history_row
from asfound.report.history_small import history_small
from asfound.report.icons import ICONS, LOOK_WORDS, SEVERITY_WORDS, icon, look_sign, severity_sign
from asfound.report.marks import house_sign, page_defs, ring_disc, state_sign, tag_sign, trail_sign
from asfound.report.of_visit import drawing_of, drawing_of_engine, tag_of
from asfound.report.oil_trend import oil_trend
from asfound.report.outlines import look_picture, part_picture
from asfound.report.ports import Level, engine_ports, level_row
from asfound.report.ruler import Due, due_row, home_ruler
from asfound.report.scales import scale, scatter_scale
from asfound.report.stairs import Stair, Stretch, stairs
from asfound.report.tornado import Swing, tornado
from asfound.report.whatif_cycle import Panel, whatif_cycle
from asfound.report.whatif_field import Contour, Place, whatif_field
from asfound.report.whatif_map import NetLine, Spot, whatif_map
from asfound.report.whatif_pv import Loop, whatif_pv

__all__ = [
    "ICONS",
    "LOOK_WORDS",
    "SEVERITY_WORDS",
    "Band",
    "Branch",
    "Component",
    "Contour",
    "DayEvent",
    "DaySpan",
    "DrawnSlot",
    "Due",
    "EngineDrawing",
    "Kept",
    "Lane",
    "Leaning",
    "Level",
    "Line",
    "Loop",
    "Mark",
    "NetLine",
    "Outcome",
    "Panel",
    "Part",
    "Place",
    "Row",
    "Share",
    "Spot",
    "Stair",
    "Stretch",
    "Swing",
    "Tag",
    "Wall",
    "beam",
    "belief_bar",
    "belief_fork",
    "belief_row",
    "belief_steps",
    "crosscheck_bar",
    "crosscheck_lane",
    "crosscheck_net",
    "crosscheck_share",
    "day_line",
    "drawing_caption",
    "drawing_of",
    "drawing_of_engine",
    "due_head",
    "due_lane",
    "due_row",
    "engine_drawing",
    "engine_ports",
    "gas_bars",
    "habit",
    "history_events",
    "history_row",
    "history_small",
    "home_ruler",
    "house_sign",
    "icon",
    "lanes",
    "level_row",
    "look_picture",
    "look_sign",
    "mini_drawing",
    "oil_trend",
    "page_defs",
    "part_picture",
    "ring_disc",
    "scale",
    "scatter_scale",
    "severity_sign",
    "share_bar",
    "stairs",
    "state_sign",
    "tag_of",
    "tag_sign",
    "tornado",
    "trail_sign",
    "weights_bar",
    "whatif_cycle",
    "whatif_field",
    "whatif_map",
    "whatif_pv",
]  # fmt: skip
