"""The job: in come the notes of a job with their entries, out goes its `Ledger`.

`ledger` is a pure function of the entries in the order of time. `story` puts them in order and fills in the places that
the whole job tells; each section has a module of its own (`damage`, `parts`, `loose`, `fasteners` with `sizes`,
`readings` with `limits`, `work`, `followups`, `questions`), and all rules are CSV files of the lexicon (`rules`). What
the sections hold is in `sections`.
"""

from notelog.job.build import ledger
from notelog.job.limits import Limits, read_limits
from notelog.job.notes import JobEntry, JobNote
from notelog.job.sections import Ledger

__all__ = ["JobEntry", "JobNote", "Ledger", "Limits", "ledger", "read_limits"]
