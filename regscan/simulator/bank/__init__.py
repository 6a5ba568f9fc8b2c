"""The bank: a seeded source of runs with known truth, as tables of offsets without images.

run = bank_run(17)                    job, rows, speed_log, truth
run.truth.faults[0].fault.name        what was injected; see regscan.simulator.bank.truth
bank_run(17, replace(plan_of(17), faults=("backlash",), level="low"))
"""

from regscan.simulator.bank.plan import Plan, plan_of
from regscan.simulator.bank.run import bank_run
from regscan.simulator.bank.truth import BankRun, BankTruth, FaultTruth

__all__ = ["BankRun", "BankTruth", "FaultTruth", "Plan", "bank_run", "plan_of"]
