"""The archive's answers against BM25 over the raw notes of the same archive, on generated jobs with planted kinds of accident.

The gain of a job is 2 for the kind that is asked for, on the side that is asked for where one is; nDCG@10 is scikit-learn's.
"""

import re

import pytest
from accidents import KINDS, accidents
from sklearn.metrics import ndcg_score

from notelog.archive import Archive, Vehicle, similar
from notelog.archive.asking import ask, find_jobs
from notelog.archive.vocabulary import vocabulary
from notelog.errors import InputError
from notelog.lexicon import load
from notelog.log import log_note
from notelog.reading import read_text

JOBS, BETTER, TOP = 312, 0.15, 10
KNOWN = vocabulary()

# Written with knowledge of the kinds of accident only: what the shop lead would ask, the kind that is meant, and its side.
QUESTIONS = [
    ("buckled wheel and bent wishbone nearside front", "kerb", "left"),
    ("bent control arm, warped rim, driver's side front", "kerb", "right"),
    ("lower arm bent, track rod end bent, wheel out of true", "kerb", ""),
    ("kerb strike: bent outer tie rod and lower control arm", "kerb", ""),
    ("tyre split, drop link snapped, strut leaking", "pothole", ""),
    ("offside front strut weeping and split tyre", "pothole", "right"),
    ("broken top mount with a split tire on the passenger side", "pothole", "left"),
    ("pothole damage, leaking strut, broken sway bar link", "pothole", ""),
    ("rear bumper cracked, boot lid dented", "shunted", ""),
    ("trunk lid creased and tail panel bent", "shunted", ""),
    ("tail lights smashed, bumper cover cracked, muffler dented", "shunted", ""),
    ("bent rear panel, shattered rear lamp", "shunted", ""),
    ("bonnet buckled, radiator leaking, bumper smashed", "head on", ""),
    ("hood warped with condenser and radiator leaking", "head on", ""),
    ("slam panel bent, headlamp shattered, radiator weeping", "head on", ""),
    ("grille broken and bonnet dented", "animal", ""),
    ("snapped grille, cracked windshield, dinged hood", "animal", ""),
    ("deer: front grille in bits, headlight cracked, fender dented", "animal", ""),
    ("door dented and sill creased offside", "side", "right"),
    ("b-pillar bent, door dented, nearside", "side", "left"),
    ("rocker panel dented with a bent b pillar", "side", ""),
    ("door mirror broken and door creased, driver's side", "side", "right"),
    ("quarter panel dented, tail lamp cracked", "quarter", ""),
    ("creased rear quarter panel and bent trailing arm left", "quarter", "left"),
    ("rear quarter dented, wheel scuffed, right", "quarter", "right"),
    ("roof dented, windscreen shattered", "fallen tree", ""),
    ("smashed windshield and dented roof skin, broken mirror", "fallen tree", ""),
    ("roof creased", "fallen tree", ""),
    ("sump cracked and undertray torn", "underside", ""),
    ("oil pan cracked, catalytic converter dented", "underside", ""),
    ("ripped splash shield, kinked front pipe", "underside", ""),
    ("rear axle beam bent, damper leaking", "rear kerb", ""),
    ("trailing arm bent and shock absorber weeping on the offside", "rear kerb", "right"),
    ("rear wheel buckled, trailing arm bent, nearside", "rear kerb", "left"),
    ("bumper and wing scratched", "scrape", ""),
    ("scuffed fender and scraped door passenger side", "scrape", "left"),
    ("cv boot torn, wheel bearing noisy", "driveline", ""),
    ("bent driveshaft with a ripped cv gaiter offside", "driveline", "right"),
    ("wiring loom burnt and battery melted", "fire", ""),
    ("burnt wiring harness", "fire", ""),
]  # fmt: skip


@pytest.fixture(scope="module")
def bed(tmp_path_factory):
    lexicon, jobs = load(), accidents(JOBS, seed=5)
    with Archive(tmp_path_factory.mktemp("bed") / "jobs.sqlite", create=True) as archive:
        for job in jobs:
            note = read_text(job.text, f"{job.reference}.txt")
            archive.add(job.reference, [(note, log_note(note, "right", lexicon=lexicon))], vehicle=Vehicle.given(model=job.vehicle))
        yield archive, jobs


def by_raw_notes(archive, text):
    """BM25 over the notes as they were said: any of the words, stemmed, the words of everyday left out."""
    plain = KNOWN.groups["stop"] | KNOWN.groups["join"] | KNOWN.groups["break"] | KNOWN.groups["choice"]
    words = [word for word in dict.fromkeys(re.findall(r"[a-z0-9]+", text.lower())) if word not in plain]
    rows = archive.connection.execute(
        """SELECT jobs.reference FROM notes_fts JOIN notes ON notes.id = notes_fts.rowid JOIN jobs ON jobs.id = notes.job_id
           WHERE notes_fts MATCH ? ORDER BY rank LIMIT ?""",
        (" OR ".join(f'"{word}"' for word in words), TOP),
    )
    return [reference for (reference,) in rows]


def ndcg(found, jobs, gain):
    """nDCG@10 of a ranking over all jobs; what was not found stands behind, each job once."""
    assert len(found) == len(set(found)) <= TOP
    gains = [gain(job) for job in jobs]
    scores = [TOP - found.index(job.reference) if job.reference in found else 0 for job in jobs]
    # Where fewer than ten were found, those without a gain come next: what was not found never counts.
    order = sorted(range(len(jobs)), key=lambda at: (-scores[at], gains[at]))
    ranks = [0.0] * len(jobs)
    for rank, at in enumerate(order):
        ranks[at] = len(jobs) - rank
    return ndcg_score([gains], [ranks], k=TOP)


def mean(values):
    values = list(values)
    return sum(values) / len(values)


def test_find_is_better_than_bm25(bed):
    archive, jobs = bed
    ours, theirs = {}, {}
    for text, kind, side in QUESTIONS:
        def gain(job, kind=kind, side=side):
            return 2 * (job.kind.name == kind and side in ("", job.side))

        found = find_jobs(archive, ask(archive, text, KNOWN), KNOWN, limit=TOP)
        ours[text] = ndcg([one.job for one in found.jobs], jobs, gain)
        theirs[text] = ndcg(by_raw_notes(archive, text), jobs, gain)
    assert len(QUESTIONS) == 40 and {kind for _, kind, _ in QUESTIONS} == {kind.name for kind in KINDS}
    told = f"find {mean(ours.values()):.3f}, BM25 {mean(theirs.values()):.3f}; worst {sorted(ours.items(), key=lambda one: one[1])[:6]}"
    print(told)
    assert mean(ours.values()) >= mean(theirs.values()) + BETTER, told


def test_like_is_better_than_bm25(bed):
    archive, jobs = bed
    lexicon, ours, theirs = load(), [], []
    for new in accidents(40, seed=77, first=90_000):
        log = log_note(read_text(new.text, "new.txt"), "right", lexicon=lexicon)

        def gain(job, kind=new.kind.name):
            return 2 * (job.kind.name == kind)

        try:
            case = similar.case_of_entries([entry.model_dump() for entry in log.entries], new.vehicle)
            found = [one.job for one in similar.similar(archive, case, KNOWN, limit=TOP)]
        except InputError:  # no damage was understood in the note
            found = []
        ours.append(ndcg(found, jobs, gain))
        theirs.append(ndcg(by_raw_notes(archive, new.text), jobs, gain))
    told = f"like {mean(ours):.3f}, BM25 {mean(theirs):.3f}"
    print(told)
    assert mean(ours) >= mean(theirs) + BETTER, told
