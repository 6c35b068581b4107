"""Thirty months of logs of seven invented engines, with planted faults and the truth about them."""

from asfound.history.demo.dataset import write_demo_logs
from asfound.history.demo.fleet import ENGINES
from asfound.history.demo.log import SEED, DemoLog, generate
from asfound.history.demo.planted import AlarmEntry, Planted, Stay

__all__ = ["ENGINES", "SEED", "AlarmEntry", "DemoLog", "Planted", "Stay", "generate", "write_demo_logs"]
