"""The types that travel along the data's way: Note, Heard, Entry and the Log that `extract` returns.

Offsets called `start` and `end` count characters; in everything that leaves the package they count
characters of the note's verbatim text.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal, Optional, Union

from pydantic import BaseModel, ConfigDict, Field

SCHEMA = "notelog/1"

Side = Literal["left", "right", "both"]
DriverSide = Literal["left", "right"]


# --- reading and hearing: light, made once for every character, so plain dataclasses ---------------


@dataclass(slots=True)
class MappedText:
    """A text derived from another one, every character of it mapped back.

    `starts[i]:ends[i]` is the span of the source text that character `i` came from. `source_span` turns
    a span of the derived text into a span of the source.

    >>> mapped = MappedText("17mm", [4, 4, 14, 14], [13, 13, 17, 17])
    >>> mapped.source_span(0, 4)
    (4, 17)
    """

    text: str
    starts: list[int]
    ends: list[int]

    def source_span(self, start: int, end: int) -> tuple[int, int]:
        """The span of the source text behind `text[start:end]`; an empty span maps to an empty span."""
        if start >= end:
            at = self.starts[start] if start < len(self.starts) else (self.ends[-1] if self.ends else 0)
            return at, at
        return self.starts[start], max(self.ends[start:end])


@dataclass(slots=True)
class Segment:
    """A stretch of the verbatim text with the time at which it was spoken, in seconds."""

    start: int
    end: int
    t_start: float
    t_end: float | None = None


@dataclass(slots=True)
class Note:
    """A note as it was read.

    `text` is verbatim; `spoken` is what was said: stamps, cue numbers, tags and JSON syntax taken out,
    mapped to `text`. `format` is one of "text", "stamped", "srt", "vtt", "json".
    """

    text: str
    spoken: MappedText
    format: str = "text"
    source: str = ""
    sha256: str = ""
    encoding: str = "utf-8"
    segments: list[Segment] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Quantity:
    """A number with its unit as it was heard; `start:end` is its span in the heard text.

    `unit` is one of mm, cm, in, M (metric thread), T (torx), deg, arcmin, Nm, lbft, bar, psi, V, ohm, C, F,
    km, mi, l, kg, h (hours), % , a currency code (GBP, USD, EUR), or "" for a bare number.
    `pitch` is the thread pitch in mm of "M12x1.5".
    """

    start: int
    end: int
    low: float
    high: float
    unit: str
    pitch: float | None = None


@dataclass(slots=True)
class Repair:
    """A misheard word put right: `start:end` is the span of `meant` in the heard text, `said` what stood there."""

    start: int
    end: int
    said: str
    meant: str
    why: str


@dataclass(slots=True)
class Heard:
    """The spoken text after hearing, mapped to the verbatim text, with its quantities and repairs in order."""

    mapped: MappedText
    quantities: list[Quantity] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)


# --- the log ---------------------------------------------------------------------------------------


class Strict(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Named(Strict):
    """A component, tool or material: `id` and `label` of its lexicon entry, and the words that were said.

    Something that is in no lexicon has the id "unknown" and what was said as its label.
    """

    id: str
    label: str
    said: str


class Position(Strict):
    """Where on the vehicle; left and right as seen from the driver's seat. Only what is known is set."""

    side: Optional[Side] = None
    axle: Optional[Literal["front", "rear"]] = None
    level: Optional[Literal["upper", "lower"]] = None
    depth: Optional[Literal["inner", "outer"]] = None


class Size(Strict):
    """A spanner, socket or key size in mm or in (inches), a thread (M), or a torx size (T)."""

    value: float
    unit: Literal["mm", "in", "M", "T"]


class Evidence(Strict):
    """The words that an entry came from: a span of the verbatim text, and its times in seconds where known."""

    start: int
    end: int
    text: str
    t_start: Optional[float] = None
    t_end: Optional[float] = None


Condition = Literal[
    "bent", "buckled", "dented", "cracked", "split", "torn", "broken", "shattered", "scratched", "corroded",
    "seized", "worn", "play", "loose", "leaking", "noisy", "perished", "burnt", "missing", "stripped",
    "misaligned", "inoperative", "contaminated", "punctured", "deployed", "damaged", "good",
]  # fmt: skip
Action = Literal[
    "remove", "fit", "replace", "repair", "straighten", "weld", "paint", "loosen", "tighten", "torque",
    "disconnect", "connect", "separate", "press", "compress", "inspect", "measure", "adjust", "align",
    "calibrate", "clean", "lubricate", "seal", "drain", "refill", "bleed", "secure", "cut", "drill", "test", "mark",
]  # fmt: skip
FastenerType = Literal[
    "nut", "bolt", "screw", "stud", "clip", "clamp", "circlip", "pin", "rivet", "washer", "plug"
]
Drive = Literal["hex", "allen", "torx", "phillips", "slotted", "spline"]
Quantities = Literal[
    "camber", "caster", "toe", "thickness", "depth", "length", "gap", "runout", "play", "pressure", "voltage",
    "resistance", "torque", "temperature", "mileage", "angle", "height", "diameter", "volume",
]  # fmt: skip
Unit = Literal[
    "mm", "cm", "in", "deg", "arcmin", "Nm", "lbft", "bar", "psi", "V", "ohm", "C", "F", "km", "mi", "l"
]


class EntryBase(Strict):
    evidence: Evidence
    confidence: float = Field(ge=0, le=1)
    why: list[str] = Field(default_factory=list, exclude=True, description="mentions, cues, rules and repairs behind it")


class Finding(EntryBase):
    """One condition of one component."""

    kind: Literal["finding"] = "finding"
    component: Optional[Named] = None
    position: Position = Field(default_factory=Position)
    condition: Condition
    status: Literal["present", "absent", "suspected", "past"] = "present"


class Operation(EntryBase):
    """One action on one component."""

    kind: Literal["operation"] = "operation"
    component: Optional[Named] = None
    position: Position = Field(default_factory=Position)
    action: Action
    status: Literal["done", "planned", "not_done"] = "done"


class Fastener(EntryBase):
    """A fastener (type and size) of a component; `count` when it was said."""

    kind: Literal["fastener"] = "fastener"
    type: FastenerType
    drive: Optional[Drive] = None
    size: Optional[Size] = None
    count: Optional[int] = None
    component: Optional[Named] = None
    position: Position = Field(default_factory=Position)


class Tool(EntryBase):
    """A tool used or wanted."""

    kind: Literal["tool"] = "tool"
    tool: Named
    size: Optional[Size] = None


class Measurement(EntryBase):
    """A reading as an interval; a single value has low = high."""

    kind: Literal["measurement"] = "measurement"
    quantity: Quantities
    low: float
    high: float
    unit: Unit
    component: Optional[Named] = None
    position: Position = Field(default_factory=Position)


class Part(EntryBase):
    """A part needed, ordered or on hand."""

    kind: Literal["part"] = "part"
    component: Optional[Named] = None
    position: Position = Field(default_factory=Position)
    count: int = 1
    state: Literal["needed", "ordered", "on_hand"]


class Material(EntryBase):
    """A consumable used or needed."""

    kind: Literal["material"] = "material"
    material: Named


class Labour(EntryBase):
    """A stretch of time said to have been spent, in hours."""

    kind: Literal["labour"] = "labour"
    hours: float


class Cost(EntryBase):
    """A price said."""

    kind: Literal["cost"] = "cost"
    amount: float
    currency: str
    component: Optional[Named] = None


Entry = Annotated[
    Union[Finding, Operation, Fastener, Tool, Measurement, Part, Material, Labour, Cost],
    Field(discriminator="kind"),
]


class Mention(Strict):
    """Words of the lexicon found in the note, by kind and lexicon id."""

    kind: str
    id: str
    start: int
    end: int


class NoteInfo(Strict):
    """Which note a log came from."""

    source: str
    sha256: str
    driver_side: DriverSide


class Log(Strict):
    """What `notelog extract` prints for one note: the extraction contract, schema `notelog/1`."""

    schema_: Literal["notelog/1"] = Field(default="notelog/1", alias="schema")
    note: NoteInfo
    entries: list[Entry]
    mentions: list[Mention]
    warnings: list[str]

    model_config = ConfigDict(extra="forbid", populate_by_name=True)
