"""The archive: one SQLite file with the jobs, their notes and the entries understood from them.

Comes in: notes with the logs made from them, and what is known of the job's vehicle.
Goes out: jobs, notes, entries and answers to questions as plain dataclasses, and the logs as they stand now.

`store` holds the `Archive`; `opening` finds, opens and checks the file and tells its errors plainly, and knows where
the shop's own lexicon lies beside it;
`migrations` builds its tables in small named steps; `search` is the full-text search; `vehicle` is what is
known of a vehicle; `vin` checks vehicle identification numbers.

`corrections` is what people decide about entries and answer to questions; `answering` what an answer means for its
entry; `fields` what they may write;
`standing` how entries stand after it; `again` reads notes anew; `matching` is the rule by which an entry is known
again then; `unknown` lists what notes asked for that no lexicon holds; `ledgers` gives a job's notes as the ledger takes them.

`question` reads a question, by the forms of `vocabulary` and the times of `times`, and `asking` puts it to the archive;
`similar` finds past jobs by similar damage, by the rule of `likeness`; `look_too` is what else was damaged on such jobs,
`figures` are counts of the whole archive; `upkeep` looks after the file.

All but the first group are imported by who needs them, since searching must start at once.
"""

from notelog.archive.opening import archive_path, lexicon_path, shop_lexicon
from notelog.archive.search import Hit
from notelog.archive.store import Archive, Job, JobSummary, Stored, StoredNote
from notelog.archive.vehicle import Vehicle

__all__ = ["Archive", "Hit", "Job", "JobSummary", "Stored", "StoredNote", "Vehicle", "archive_path", "lexicon_path", "shop_lexicon"]
