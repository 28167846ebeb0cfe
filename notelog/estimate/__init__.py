"""The estimate: in come the notes of a job, its ledger, a price file and a rates file; out goes an `Estimate`.

`estimate` is a pure function. Every number of it says where it came from: words of a note (`said`), a row of the price
file (`prices`), or the median of past jobs with its quartiles (`past`); labour rates, rounding and tax are those of
the rates file (`rates`). What has no number is to be asked, and counted. Whether a thing is repaired or replaced, and
which work is outside work, are rules that the shop can change (`rules`, read from the lexicon). `money` is arithmetic
in decimals, `lines` finds what stands on the estimate, `build` puts it together, `sections` is what it holds.
"""

from notelog.estimate.build import estimate
from notelog.estimate.past import PastJob, past_job
from notelog.estimate.prices import PriceFile, read_prices
from notelog.estimate.rates import Rates, read_rates
from notelog.estimate.rules import EstimateRules, read_rules
from notelog.estimate.sections import Estimate

__all__ = [
    "Estimate", "EstimateRules", "PastJob", "PriceFile", "Rates", "estimate", "past_job", "read_prices", "read_rates",
    "read_rules",
]  # fmt: skip
