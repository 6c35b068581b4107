"""From what shows to what is wrong: causes with their doubt, the next test, when to repair, when to call.

knowledge = for_engine(generic(), kinds={"lean": True}, fitted={"nox_sensor": "none"})
belief = believe(Odds(knowledge), {"s_misfire_one": "present"}, findings=["CY-10"])
belief.ranked(), next_tests(belief, Now(state="running")), decide(belief, Now(state="running"))
"""

from asfound.troubleshoot.belief import OTHER, Belief, Odds, Witness, believe
from asfound.troubleshoot.cautions import cautions_before
from asfound.troubleshoot.closed_cases import PriorMoved, with_closed_cases
from asfound.troubleshoot.decide import Decision, Planned, decide
from asfound.troubleshoot.fault_codes import Fault, FaultMessage, decode
from asfound.troubleshoot.generic import for_engine, generic
from asfound.troubleshoot.knowledge import Knowledge
from asfound.troubleshoot.next_test import NextTests, Now, Proposal, next_tests
from asfound.troubleshoot.schema import read_knowledge

__all__ = [
    "OTHER",
    "Belief",
    "Decision",
    "Fault",
    "FaultMessage",
    "Knowledge",
    "NextTests",
    "Now",
    "Odds",
    "Planned",
    "PriorMoved",
    "Proposal",
    "Witness",
    "believe",
    "cautions_before",
    "decide",
    "decode",
    "for_engine",
    "generic",
    "next_tests",
    "read_knowledge",
    "with_closed_cases",
]
