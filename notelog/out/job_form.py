"""A job as JSON for other programs, schema `notelog.job/1`: the job with its ledger, and its estimate."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from notelog.out.as_json import plain

if TYPE_CHECKING:
    from notelog.archive import Job
    from notelog.estimate import Estimate
    from notelog.job import Ledger

SCHEMA = "notelog.job/1"


def job_with_ledger(job: Job, ledger: Ledger) -> dict[str, Any]:
    """What `notelog job --json` prints."""
    return plain(job) | {"ledger": ledger.model_dump(mode="json", by_alias=True)}


def job_export(job: Job, ledger: Ledger, estimate: Estimate, *, shop: str = "", currency: str = "") -> dict[str, Any]:
    """What `notelog export --to json` writes."""
    return {
        "schema": SCHEMA,
        "shop": shop,
        "currency": currency,
        "job": job_with_ledger(job, ledger),
        "estimate": estimate.model_dump(mode="json", by_alias=True),
    }


def job_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of an exported job. A field that is there may be more later; none goes away
    without a new number in `schema`.

    >>> job_schema()["required"]
    ['schema', 'shop', 'currency', 'job', 'estimate']
    """
    from typing import Annotated, Literal, Optional, Union, get_args

    from pydantic import ConfigDict, Field, create_model

    from notelog import models
    from notelog.estimate import Estimate
    from notelog.job import Ledger

    strict = models.Strict
    decided = create_model(
        "Decided",
        __base__=strict,
        what=(Literal["accepted", "changed", "added", "rejected"], ...),
        by=(str, ...),
        at=(str, ...),
        fields=(list[str], ...),
        by_hand=(bool, ...),
        by_answer=(bool, ...),
        reading=(Optional[dict], ...),
    )
    kinds = get_args(get_args(models.Entry)[0])
    stored = [
        create_model(f"Stored{kind.__name__}", __base__=kind, id=(int, ...), revision=(int, ...), decided=(Optional[decided], ...))
        for kind in kinds
    ]
    entry = Annotated[Union[tuple(stored)], Field(discriminator="kind")]
    text = Optional[str]
    note = create_model(
        "StoredNote",
        __base__=strict,
        id=(int, ...),
        **dict.fromkeys(("source", "sha256", "format", "encoding", "driver_side", "added", "text"), (str, ...)),
        **dict.fromkeys(("author", "dictated"), (text, ...)),
        warnings=(list[str], ...),
        entries=(list[entry], ...),
    )
    vehicle = create_model(
        "Vehicle",
        __base__=strict,
        **dict.fromkeys(("make", "model", "vin", "registration"), (text, ...)),
        **dict.fromkeys(("year", "mileage"), (Optional[int], ...)),
    )
    job = create_model(
        "Job", __base__=strict, reference=(str, ...), vehicle=(vehicle, ...), created=(str, ...),
        notes=(list[note], ...), ledger=(Ledger, ...),
    )  # fmt: skip
    export = create_model(
        "JobExport",
        __base__=strict,
        __config__=None,
        schema_=(Literal["notelog.job/1"], Field(alias="schema")),
        shop=(str, ...),
        currency=(str, ...),
        job=(job, ...),
        estimate=(Estimate, ...),
    )
    export.model_config = ConfigDict(extra="forbid", populate_by_name=True)
    made = export.model_json_schema(by_alias=True)
    for name, definition in made["$defs"].items():
        if name.startswith("Stored"):
            definition.get("properties", {}).pop("why", None)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": SCHEMA} | made
