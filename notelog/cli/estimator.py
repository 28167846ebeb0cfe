"""From a stored job to its ledger, its estimate and its exports: calls of the functions that make them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from notelog.archive import Archive, Job
    from notelog.archive.look_too import LookToo
    from notelog.estimate import Estimate, PastJob
    from notelog.job import Ledger


def ledger_of(store: Archive, job: Job, limits: Path | None = None) -> Ledger:
    """The ledger of a stored job as its entries stand, without the questions that are answered."""
    from notelog.archive.ledgers import answered, job_notes
    from notelog.job import ledger, read_limits

    lexicon = store.lexicon()
    given = read_limits(limits, lexicon) if limits else None
    return ledger(job_notes(job), lexicon, given, answered=answered(store, job.reference), now=datetime.now(UTC))


def estimate_of(
    store: Archive, job: Job, prices: Path | None, rates: Path | None, limits: Path | None = None, rules: Path | None = None
) -> tuple[Ledger, Estimate]:
    """The ledger of a stored job, and its estimate by the shop's files and the other jobs of the archive."""
    from notelog.archive.ledgers import job_notes, note_texts
    from notelog.estimate import estimate, read_prices, read_rates, read_rules

    lexicon = store.lexicon()
    price_file = read_prices(prices, lexicon) if prices else None
    rates_file = read_rates(rates, lexicon) if rates else None
    shop_rules = read_rules(rules, lexicon) if rules else None
    made = ledger_of(store, job, limits)
    past = past_jobs(store, job.reference)
    return made, estimate(
        job_notes(job), price_file, rates_file, past,
        texts=note_texts(job), made=made, lexicon=lexicon, rules=shop_rules,
    )  # fmt: skip


def past_jobs(store: Archive, reference: str) -> list[PastJob]:
    """What all other jobs of the archive say of prices and hours."""
    from notelog.archive.ledgers import has_money_or_time, job_notes, note_texts
    from notelog.estimate import estimate, past_job
    from notelog.out.terminal import progress

    others = sorted(one.reference for one in store.jobs() if one.reference != reference)
    past = []
    with progress("Looking at past jobs", len(others)) as step:
        for other in others:
            job = store.job(other)
            if has_money_or_time(job):
                told = estimate(job_notes(job), texts=note_texts(job), lexicon=store.lexicon())
                past.append(past_job(other, told))
            step()
    return past


def allowance_of(store: Archive, job: Job) -> list[LookToo]:
    """What was damaged along with such damage on past jobs and is not mentioned in this one."""
    from notelog.archive.look_too import allowance
    from notelog.archive.vocabulary import vocabulary

    return allowance(store, job.reference, vocabulary(store.shop_lexicon))


def exported(job: Job, ledger: Ledger, estimate: Estimate, form: str, table: str) -> bytes:
    """The job in a form: csv, json, xlsx or html."""
    from notelog.out import as_csv, as_html, as_json, as_xlsx, job_form, tables
    from notelog.settings import load

    settings = load()
    if form == "json":
        whole = job_form.job_export(job, ledger, estimate, shop=settings.shop, currency=settings.currency)
        return (as_json.line(whole) + "\n").encode()
    if form == "csv" and table == "evidence":
        return as_csv.job_csv(job).encode()
    made = tables.export_tables(job, ledger, estimate)
    if form == "csv":
        return as_csv.table_csv(made[table]).encode()
    if form == "xlsx":
        return as_xlsx.workbook(made, f"Job {job.reference}")
    return as_html.page(job, ledger, estimate, made, shop=settings.shop).encode()
