"""The estimate: where its numbers come from, its sums against arithmetic done otherwise, its rules and its files."""

import json
import shutil
from datetime import datetime
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, ROUND_HALF_UP, ROUND_UP, Decimal
from fractions import Fraction

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import notelog
from notelog.archive import Archive
from notelog.errors import InputError
from notelog.estimate import PastJob, PriceFile, Rates, estimate, past_job, read_prices, read_rates, read_rules
from notelog.estimate.money import HOW, Rounding, currencies, quartiles
from notelog.estimate.prices import PriceRow
from notelog.estimate.rates import LabourRate, Tax
from notelog.estimate.rules import COLUMNS, estimate_rules
from notelog.job import JobEntry, JobNote
from notelog.job.things import Things
from notelog.lexicon import load
from notelog.models import Log
from notelog.paths import data_folder

LEXICON = load()
HEADER = "kind,item,axle,work,price,hours,currency,note\n"


def heard(*notes, past=(), prices=None, rates=None):
    """The estimate of a job from what people said."""
    made = [JobNote.of_log(at, notelog.extract(text), datetime(2024, 3, at)) for at, text in enumerate(notes, 1)]
    texts = {str(at): text for at, text in enumerate(notes, 1)}
    return estimate(made, prices, rates, past, texts=texts)


def line_of(found, kind, label, work=""):
    [line] = [
        one
        for one in found.lines
        if one.kind == kind and one.work == work and one.component and one.component.label == label
    ]
    return line


@pytest.fixture
def price_file(tmp_path):
    def write(rows, name="prices.csv", header=HEADER):
        path = tmp_path / name
        path.write_text(header + rows, encoding="utf-8")
        return path

    return write


@pytest.fixture
def rates_file(tmp_path):
    def write(text, name="rates.toml"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


# --- where each number comes from ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "each", "amount"),
    [
        ("Both front shock absorbers are leaking. Two shock absorbers ordered, 60 pounds each.", "60.00", "120.00"),
        ("Both front shock absorbers are leaking. Two shock absorbers ordered, 60 pounds for the pair.", "30.00", "60.00"),
        ("The radiator is cracked. Radiator ordered, 85.50 pounds.", "85.50", "85.50"),
        ("Two headlamps needed, 99.99 pounds apiece.", "99.99", "199.98"),
    ],
)
def test_a_price_that_was_said_goes_to_its_part(said, each, amount):
    [line] = [one for one in heard(said).lines if one.kind == "part"]
    assert (str(line.unit_price.value), str(line.amount), line.currency) == (each, amount, "GBP")
    origin = line.unit_price.origin
    assert origin.kind == "quote"
    assert origin.quote.text == said[origin.quote.start : origin.quote.end]


def test_a_price_for_one_or_for_all_is_asked_and_not_guessed():
    found = heard("Two headlamps needed, 90 pounds.")
    [line] = [one for one in found.lines if one.kind == "part"]
    assert line.amount is None
    assert "for one or for all 2" in line.to_ask[0]
    [said] = found.said_prices
    assert (str(said.amount), said.currency) == ("90.00", "GBP")


def test_the_newest_price_counts_and_the_older_one_is_shown():
    found = heard("Radiator ordered, 80 pounds.", "The radiator came, it was 95 pounds.")
    assert str(line_of(found, "part", "radiator").amount) == "95.00"
    [older] = found.said_prices
    assert (str(older.amount), older.why) == ("80.00", "a newer price was said: 95")


def test_a_quote_goes_before_the_price_file_and_that_before_past_jobs(price_file):
    prices = read_prices(price_file("part,radiator,,,70,,GBP,\n"), LEXICON)
    past = [PastJob(str(n), {("part", "radiator", "", "GBP"): Decimal(50 + n)}) for n in range(3)]
    said = line_of(heard("Radiator needed, 85 pounds.", prices=prices, past=past), "part", "radiator")
    row = line_of(heard("Radiator needed.", prices=prices, past=past), "part", "radiator")
    median = line_of(heard("Radiator needed.", past=past), "part", "radiator")
    nothing = line_of(heard("Radiator needed."), "part", "radiator")
    assert [one.unit_price.origin.kind for one in (said, row, median)] == ["quote", "price_file", "past_jobs"]
    assert [str(one.amount) for one in (said, row, median)] == ["85.00", "70.00", "51.00"]
    assert (row.unit_price.origin.file, row.unit_price.origin.line) == ("prices.csv", 2)
    assert median.unit_price.origin.jobs == ["0", "1", "2"]
    assert (str(median.amount_low), str(median.amount_high)) == ("50.50", "51.50")
    assert (nothing.amount, nothing.to_ask) == (None, ["price"])


def test_too_few_past_jobs_make_no_median():
    past = [PastJob(str(n), {("part", "radiator", "", "GBP"): Decimal(50)}) for n in range(2)]
    line = line_of(heard("Radiator needed.", past=past), "part", "radiator")
    assert line.to_ask == ["price: only 2 past jobs have it, and a median wants 3"]
    line = line_of(heard("Radiator needed.", past=past, rates=Rates(past_jobs_at_least=2)), "part", "radiator")
    assert str(line.amount) == "50.00"


def test_past_jobs_are_read_from_what_their_notes_say():
    past = past_job("7", heard("Radiator needed, 85 pounds.", "Two headlamps ordered, 40 pounds each."))
    assert dict(past.prices) == {
        ("part", "radiator", "", "GBP"): Decimal(85),
        ("part", "headlamp", "", "GBP"): Decimal(40),
    }


def test_hours_come_from_the_notes_only_when_they_were_said_with_one_thing():
    rates = Rates(labour=(LabourRate("all", Decimal(50), "GBP", line=3),))
    found = heard("Replaced the radiator, that took two hours.", rates=rates)
    line = line_of(found, "labour", "radiator", "replace")
    assert (line.hours.origin.kind, str(line.amount)) == ("quote", "100.00")
    assert found.hours_said == []
    found = heard("Replaced the radiator. The wing is dented. Three hours today.", rates=rates)
    assert line_of(found, "labour", "radiator", "replace").to_ask == ["hours"]
    assert [one.hours for one in found.hours_said] == [3.0]


def test_the_rates_file_can_take_the_hours_that_were_said():
    rates = Rates(hours="said", labour=(LabourRate("all", Decimal(50), "GBP", line=3),))
    found = heard("The wing is dented. Three hours today.", "Another hour and a half.", rates=rates)
    labour = [line for line in found.lines if line.kind == "labour"]
    assert [str(line.amount) for line in labour] == ["150.00", "75.00"]
    assert {line.hours.origin.kind for line in labour} == {"quote"}
    assert found.hours_said == []


def test_what_has_no_number_is_listed_and_counted():
    found = heard("The lower arm is bent, new one ordered. Thread lock on the bolts.")
    assert found.to_be_asked == len(found.lines) == sum(bool(line.to_ask) for line in found.lines)
    assert found.totals == []
    labour = line_of(found, "labour", "lower arm", "replace")
    assert labour.to_ask == ["hours", "labour rate"]


def test_currencies_are_never_mixed(price_file):
    prices = read_prices(price_file("part,radiator,,,70,,GBP,\npart,condenser,,,90,,USD,\n"), LEXICON)
    found = heard("Radiator needed. Condenser needed.", prices=prices)
    assert [(one.currency, str(one.net)) for one in found.totals] == [("GBP", "70.00"), ("USD", "90.00")]


def test_a_price_in_two_currencies_is_asked_unless_the_rates_file_names_one(price_file):
    prices = read_prices(price_file("part,radiator,,,70,,GBP,\npart,radiator,,,90,,USD,\n"), LEXICON)
    line = line_of(heard("Radiator needed.", prices=prices), "part", "radiator")
    assert line.to_ask == ["price: prices.csv has it in GBP and USD; name a currency in the rates file"]
    line = line_of(heard("Radiator needed.", prices=prices, rates=Rates(currency="USD")), "part", "radiator")
    assert (line.currency, str(line.amount)) == ("USD", "90.00")


def test_the_row_for_the_axle_goes_before_the_one_for_both(price_file):
    prices = read_prices(price_file("part,coil spring,,,30,,GBP,\npart,coil spring,rear,,44,,GBP,\n"), LEXICON)
    found = heard("Left rear coil spring is broken, coil spring ordered.", prices=prices)
    assert str(line_of(found, "part", "coil spring").amount) == "44.00"
    found = heard("Left front coil spring is broken, coil spring ordered.", prices=prices)
    assert str(line_of(found, "part", "coil spring").amount) == "30.00"


def test_a_part_with_a_short_name_is_not_bought_twice():
    found = heard("Nearside front lower arm is bent.", "n/s/f arm: here.")
    parts = [line for line in found.lines if line.kind == "part"]
    assert len(parts) == 1


def test_the_estimate_of_a_job_without_notes_is_empty():
    found = estimate([])
    assert (found.lines, found.totals, found.to_be_asked) == ([], [], 0)
    assert found.warnings == ["The job has no notes."]


# --- repair or replace -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("component", "conditions", "then", "outside"),
    [
        ("lower_arm", ["bent"], "replace", ()),
        ("door", ["dented"], "repair", ("paint",)),
        ("door", ["dented", "torn"], "replace", ("paint",)),
        ("door", ["scratched"], "none", ("paint",)),
        ("wheel", ["buckled"], "none", ("wheel_repair",)),
        ("wheel", ["buckled", "cracked"], "replace", ()),
        ("driver_airbag", ["deployed"], "replace", ()),
        ("fan_motor", ["noisy"], "ask", ()),
    ],
)
def test_repair_or_replace_follows_the_condition(component, conditions, then, outside):
    decision = estimate_rules(LEXICON).decide(Things(LEXICON), component, conditions)
    assert (decision.then, decision.outside) == (then, outside)
    assert "repair_or_replace.csv, line " in decision.why


def test_every_condition_has_a_rule():
    from typing import get_args

    from notelog.models import Condition

    things = Things(LEXICON)
    for condition in set(get_args(Condition)) - {"good"}:
        assert estimate_rules(LEXICON).decide(things, "sump", [condition]).why != "no rule says what is to be done"


def test_the_shop_can_change_the_rules(tmp_path):
    folder = tmp_path / "lexicon"
    shutil.copytree(data_folder("lexicon"), folder)
    with open(folder / "repair_or_replace.csv", "a", encoding="utf-8") as file:
        file.write("bent,lower_arm,,repair,,we straighten them,our own rule\n")
    note = JobNote.of_log(1, notelog.extract("The nearside front lower arm is bent."))
    works = {line.work for line in estimate([note]).lines if line.kind == "labour"}
    ours = {line.work for line in estimate([note], lexicon=load(folder)).lines if line.kind == "labour"}
    assert (works, ours) == ({"replace"}, {"repair"})


@pytest.mark.parametrize("row", ["bent,lower_arm,,repair,,we straighten them,our own", "bent,any,,repair,,we straighten all,our own"])
def test_rules_of_the_shop_s_own_go_before_those_that_ship(tmp_path, row):
    file = tmp_path / "ours.csv"
    file.write_text(f"{','.join(COLUMNS)}\n{row}\n", encoding="utf-8")
    note = JobNote.of_log(1, notelog.extract("The nearside front lower arm is bent. The radiator is cracked."))
    made = estimate([note], rules=read_rules(file)).lines
    (arm,) = [line for line in made if line.component and line.component.id == "lower_arm" and line.kind == "labour"]
    assert arm.work == "repair" and "ours.csv, line 2" in arm.why
    (radiator,) = [line for line in made if line.component and line.component.id == "radiator" and line.kind == "labour"]
    assert radiator.work == "replace" and "repair_or_replace.csv, line" in radiator.why


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("item,then\n", "line 1: the columns must be"),
        ("", "line 1: the columns must be"),
        (f"{','.join(COLUMNS)}\nbent,any,,mend,,why,x\n", "line 2: then is 'mend'"),
        (f"{','.join(COLUMNS)}\nwobbly,any,,repair,,why,x\n", "line 2: conditions is 'wobbly'"),
        (f"{','.join(COLUMNS)}\nbent,flux gate,,repair,,why,x\n", "line 2: 'flux gate' is no component"),
        (f"{','.join(COLUMNS)}\nbent,any,,repair,,,x\n", "line 2: the column why is empty"),
        (f"{','.join(COLUMNS)}\nbent,any\n", "line 2: 2 columns where 7 are wanted"),
    ],
)
def test_bad_rules_of_the_shop_s_own(shop, tmp_path, text, told):
    file = tmp_path / "ours.csv"
    file.write_text(text, encoding="utf-8")
    problem = shop("estimate", "now", "--rules", file, code=2).err
    assert f"ours.csv, {told}" in " ".join(problem.split())
    assert "does not exist" in shop("estimate", "now", "--rules", tmp_path / "none.csv", code=2).err


@pytest.mark.parametrize(
    ("file", "row", "told"),
    [
        ("repair_or_replace.csv", "bent,any,,mend,,why,x\n", "then is 'mend'"),
        ("repair_or_replace.csv", "wobbly,any,,repair,,why,x\n", "conditions is 'wobbly'"),
        ("repair_or_replace.csv", "bent,flux_arm,,repair,,why,x\n", "'flux_arm' is no component"),
        ("repair_or_replace.csv", "bent,any,,repair,polish,why,x\n", "outside is 'polish'"),
        ("repair_or_replace.csv", "bent,any,,repair,,,x\n", "the column why is empty"),
        ("estimate_work.csv", "paint,p,outside,job,paint,any,,,no,why,x\n", "stands twice"),
        ("price_words.csv", "a go,some,\n", "means is 'some'"),
    ],
)
def test_a_rule_that_cannot_be_used_is_told_with_its_line(tmp_path, file, row, told):
    folder = tmp_path / "lexicon"
    shutil.copytree(data_folder("lexicon"), folder)
    line = (folder / file).read_text(encoding="utf-8").count("\n") + 1
    with open(folder / file, "a", encoding="utf-8") as rules:
        rules.write(row)
    with pytest.raises(InputError, match=f"{file}, line {line}: .*{told}"):
        estimate_rules(load(folder))


def test_work_that_was_said_wins_over_the_rule():
    found = heard("The nearside front lower arm is bent. Straightened the nearside front lower arm.")
    assert [(line.kind, line.work, line.basis) for line in found.lines if line.component and line.kind == "labour"] == [
        ("labour", "repair", "done")
    ]
    assert [line for line in found.lines if line.kind == "part"] == []


def test_what_is_only_suspected_is_asked():
    found = heard("The offside rear trailing arm might be bent.")
    [line] = [one for one in found.lines if one.kind != "outside"]
    assert (line.basis, line.to_ask, line.why) == ("ask", ["repair or replace"], "only suspected: bent")


# --- arithmetic ------------------------------------------------------------------------------------

FRACTION_ROUNDING = {
    # rounding of exact fractions, without the decimal module
    "half_up": lambda x: (abs(x) + Fraction(1, 2)).__floor__() * (1 if x >= 0 else -1),
    "half_even": round,
    "up": lambda x: abs(x).__ceil__() * (1 if x >= 0 else -1),
    "down": lambda x: abs(x).__floor__() * (1 if x >= 0 else -1),
}


def rounded(value, step, how):
    step = Fraction(step)
    return FRACTION_ROUNDING[how](value / step) * step


money = st.decimals(min_value=0, max_value=1_000_000, places=4, allow_nan=False, allow_infinity=False)
steps = st.sampled_from([Decimal(one) for one in ("0.01", "0.05", "0.001", "1", "0.25", "5")])
hows = st.sampled_from(sorted(HOW))


def test_the_ways_to_round_are_those_of_the_decimal_module():
    assert HOW == {"half_up": ROUND_HALF_UP, "half_even": ROUND_HALF_EVEN, "up": ROUND_UP, "down": ROUND_DOWN}


@given(money, steps, hows)
def test_rounding_against_fractions(amount, step, how):
    assert Fraction(Rounding(step, how).round(amount)) == rounded(Fraction(amount), step, how)


@given(st.lists(st.decimals(0, 100_000, places=2), min_size=1, max_size=40))
def test_quartiles_against_numpy(values):
    # the reference is numpy's default, linear interpolation
    reference = numpy.quantile([float(one) for one in values], [0.25, 0.5, 0.75])
    assert [float(one) for one in quartiles(values)] == pytest.approx(list(reference), rel=1e-12, abs=1e-9)


def test_quartiles_of_nothing():
    with pytest.raises(ValueError, match="no values"):
        quartiles([])


PARTS = ("radiator", "condenser", "sump", "grille", "headlamp", "bonnet", "fan_motor", "battery")
CODES = ("GBP", "USD", "JPY", "KWD")


def asked_for(counts):
    """A job that asks for so many of each of the PARTS, in one note made by hand."""
    entries = [
        {"kind": "part", "component": {"id": key, "label": LEXICON.terms["component"][key].label, "said": key},
         "count": count, "state": "needed", "confidence": 1.0, "evidence": {"start": at, "end": at + 1, "text": "x"}}
        for at, (key, count) in enumerate(zip(PARTS, counts, strict=False))
    ]  # fmt: skip
    made = Log.model_validate(
        {"schema": "notelog/1", "note": {"source": "a", "sha256": "0", "driver_side": "right"},
         "entries": entries, "mentions": [], "warnings": []}
    )  # fmt: skip
    return JobNote(id="1", entries=[JobEntry(id=at, entry=entry) for at, entry in enumerate(made.entries)])


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(1, 9), money, st.sampled_from(CODES), st.decimals("0.1", 40, places=2)),
        min_size=1,
        max_size=len(PARTS),
    ),
    st.lists(st.tuples(st.sampled_from(CODES), st.decimals(0, 30, places=3), st.sampled_from(["part", "labour"])), max_size=5),
    st.dictionaries(st.sampled_from(CODES), st.tuples(steps, hows)),
    st.sampled_from(["total", "line"]),
    st.decimals("0.01", 200, places=2),
)
def test_sums_are_exact_against_fractions(rows, taxes, roundings, tax_rounded, rate):
    prices, wanted = {}, {}
    for at, (count, price, currency, hours) in enumerate(rows):
        for row in (
            PriceRow("part", PARTS[at], "", "", price, currency, at + 2, ""),
            PriceRow("labour", PARTS[at], "", "replace", hours, "", at + 20, ""),
        ):
            prices[row.same] = row
        wanted[PARTS[at]] = (count, price, currency, hours)
    rates = Rates(
        tax_rounded=tax_rounded,
        labour=(LabourRate("all", rate, "GBP", line=1),),
        roundings={code: Rounding(step, how) for code, (step, how) in roundings.items()},
        taxes=tuple(Tax(f"tax {at}", percent, code, frozenset([on])) for at, (code, percent, on) in enumerate(taxes)),
    )
    found = estimate([asked_for([count for count, *_ in rows])], PriceFile("p.csv", prices), rates)

    def coin(code):
        step, how = roundings.get(code, (Decimal(1).scaleb(-currencies(LEXICON)[code]), "half_up"))
        return lambda value: rounded(value, step, how)

    amounts = {code: {"part": [], "labour": []} for code in CODES}
    for count, price, code, hours in wanted.values():
        amounts[code]["part"].append(coin(code)(count * Fraction(price)))
        amounts["GBP"]["labour"].append(coin("GBP")(count * Fraction(hours) * Fraction(rate)))
    assert found.to_be_asked == 0
    assert {total.currency for total in found.totals} == {code for code in CODES if any(amounts[code].values())}
    for total in found.totals:
        code, of = total.currency, amounts[total.currency]
        lines = [line for line in found.lines if line.currency == code]
        assert sum(Fraction(line.amount) for line in lines) == Fraction(total.net) == sum(map(sum, of.values()))
        assert sum(Fraction(kind.amount) for kind in total.kinds) == Fraction(total.net)
        mine = [(Fraction(percent), on) for tax_code, percent, on in taxes if tax_code == code]
        expected = [
            sum(coin(code)(amount * percent / 100) for amount in of[on])
            if tax_rounded == "line"
            else coin(code)(sum(of[on]) * percent / 100)
            for percent, on in mine
        ]
        assert [Fraction(tax.tax) for tax in total.taxes] == expected
        assert Fraction(total.gross) == Fraction(total.net) + sum(expected)
        assert (total.net_low, total.net_high) == (total.net, total.net)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.decimals(1, 5000, places=2), min_size=3, max_size=9), min_size=1, max_size=5), st.integers(1, 6))
def test_low_and_high_totals_are_those_of_the_quartiles(history, count):
    past = [
        PastJob(f"{job}", {("part", PARTS[at], "", "GBP"): values[job] for at, values in enumerate(history) if job < len(values)})
        for job in range(9)
    ]
    rates = Rates(taxes=(Tax("t", Decimal(20), "GBP"),))
    found = estimate([asked_for([count] * len(history))], None, rates, past)
    [total] = found.totals
    for which, quarter in (("net_low", 25), ("net", 50), ("net_high", 75)):
        reference = sum(
            count * rounded(Fraction(numpy.percentile([int(v * 10000) for v in values], quarter)) / 10000, "0.01", "half_up")
            for values in history
        )
        # numpy's own binary fractions may round a half the other way
        assert abs(Fraction(getattr(total, which)) - reference) <= Fraction(1, 100) * count * len(history)
    assert total.net_low <= total.net <= total.net_high
    assert total.gross_low <= total.gross <= total.gross_high
    exact = [quartiles(values) for values in history]
    assert total.net_low == sum(count * Rounding().round(low) for low, _, _ in exact)
    assert total.net_high == sum(count * Rounding().round(high) for _, _, high in exact)


def test_published_currencies():
    # ISO 4217 minor units, from memory: the yen has none, the Kuwaiti dinar three
    known = currencies(LEXICON)
    assert (known["GBP"], known["USD"], known["EUR"], known["JPY"], known["KWD"]) == (2, 2, 2, 0, 3)
    assert "XXX" not in known


# --- bad input -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rows", "line", "told"),
    [
        ("part,radiator,,,-1,,GBP,\n", 2, "the price is negative"),
        ("part,radiator,,,99999999999,,GBP,\n", 2, "cannot be meant"),
        ('part,radiator,,,"1,200.00",,GBP,\n', 2, "leave out the commas"),
        ("part,radiator,,,nan,,GBP,\n", 2, "which is no number"),
        ("part,radiator,,,1e9,,GBP,\n", 2, "which is no number"),
        ("part,radiator,,,٣,,GBP,\n", 2, "which is no number"),
        ("part,radiator,,,,,GBP,\n", 2, "the price is '', which is no number"),
        ("part,radiator,,,1.00001,,GBP,\n", 2, "more than four digits"),
        ("part,radiator,,,1,,QQQ,\n", 2, "'QQQ' is no currency of ISO 4217"),
        ("part,radiator,,,1,,,\n", 2, "'' is no currency"),
        ("part,radiator,,,1,2,GBP,\n", 2, "price and no hours"),
        ("part,,,,1,,GBP,\n", 2, "the item is empty"),
        ("# a remark\n\npart,radiator,middle,,1,,GBP,\n", 4, "the axle is 'middle'"),
        ("gift,radiator,,,1,,GBP,\n", 2, "the kind is 'gift'"),
        ("part,radiator,,replace,1,,GBP,\n", 2, "a part has no work"),
        ("labour,radiator,,paint,,1,,\n", 2, "the work is 'paint'"),
        ("labour,radiator,,replace,,-1,,\n", 2, "the hours is negative"),
        ("labour,radiator,,replace,,0,,\n", 2, "the hours are nought"),
        ("labour,radiator,,replace,,501,,\n", 2, "cannot be meant"),
        ("labour,radiator,,replace,,1,GBP,\n", 2, "no currency"),
        ("outside,,,welding,1,,GBP,\n", 2, "the work is 'welding'"),
        ("part,radiator,,,1,,GBP\n", 2, "7 cells"),
        ('part,"radiator,,,1,,GBP,\n', 2, "mend the quotes"),
    ],
)
def test_a_bad_price_file(price_file, rows, line, told):
    path = price_file(rows)
    with pytest.raises(InputError) as problem:
        read_prices(path, LEXICON)
    assert str(problem.value).startswith(f"{path}, line {line}: ")
    assert told in str(problem.value)
    assert "\n" not in str(problem.value)


@pytest.mark.parametrize(
    ("header", "told"),
    [
        ("kind,item,price\n", "the column 'work' is missing"),
        (HEADER.replace("note", "colour"), "'colour' is no column"),
        (HEADER.replace("note", "item"), "a column stands there twice"),
        ("", "the file is empty"),
    ],
)
def test_wrong_columns(price_file, header, told):
    path = price_file("", header=header)
    with pytest.raises(InputError, match="line 1: .*" + told):
        read_prices(path, LEXICON)


def test_of_duplicate_rows_the_later_counts_and_it_is_said(price_file):
    path = price_file("part,radiator,,,70,,GBP,\npart,condenser,,,9,,GBP,\npart,Radiator,,,75,,gbp,\n")
    prices = read_prices(path, LEXICON)
    assert prices.warnings == ("prices.csv, line 4: it is for the same thing as line 2; the later line counts.",)
    found = heard("Radiator needed.", prices=prices)
    assert str(line_of(found, "part", "radiator").amount) == "75.00"
    assert prices.warnings[0] in found.warnings


@pytest.mark.parametrize(
    ("text", "line", "told"),
    [
        ('currency = "QQQ"\n', 1, "the currency is 'QQQ'"),
        ('\nhours = "some"\n', 2, "hours is 'some'"),
        ("past_jobs_at_least = 0\n", 1, "write a number from 1 up"),
        ("discount = 5\n", 1, "'discount' is nothing of a rates file"),
        ('[[labour]]\nname = "a"\nrate = -5\ncurrency = "GBP"\n', 3, "rate is -5"),
        ('[[labour]]\nname = "a"\nrate = 0\ncurrency = "GBP"\n', 3, "above nought"),
        ('[[labour]]\nname = "a"\nrate = inf\ncurrency = "GBP"\n', 3, "write a number"),
        ('[[labour]]\nname = "a"\nrate = 5e9\ncurrency = "GBP"\n', 3, "cannot be meant"),
        ('[[labour]]\nname = "a"\nrate = "5"\ncurrency = "GBP"\n', 3, "write a number"),
        ('[[labour]]\nname = "a"\nrate = 5\n', 1, "the currency is None"),
        ('[[labour]]\nname = "a"\nrate = 5\ncurrency = "GBP"\nsystems = ["wings"]\n', 5, "'wings' cannot be in systems"),
        ('[[labour]]\nname = "a"\nrate = 5\ncurrency = "GBP"\n[[labour]]\nname = "b"\nrate = 6\ncurrency = "GBP"\n', 5,
         "b and a are both for all"),
        ('[[tax]]\nname = "t"\npercent = 101\ncurrency = "GBP"\n', 3, "percent is 101"),
        ('[[tax]]\nname = "t"\npercent = -1\ncurrency = "GBP"\n', 3, "percent is -1"),
        ('[[tax]]\nname = "t"\npercent = 1\ncurrency = "GBP"\n[[tax]]\nname = "t"\npercent = 2\ncurrency = "GBP"\n', 6,
         "two [[tax]] tables"),
        ('[[rounding]]\ncurrency = "GBP"\nstep = 0\n', 3, "above nought"),
        ('[[rounding]]\ncurrency = "GBP"\nstep = 0.01\nhow = "nearest"\n', 4, "how is 'nearest'"),
        ('[tax]\nname = "t"\n', 1, "two brackets"),
        ('[[tax]]\nname = "t"\nrate = 5\n', 3, "'rate' is no key of [[tax]]"),
    ],
)  # fmt: skip
def test_a_bad_rates_file(rates_file, text, line, told):
    path = rates_file(text)
    with pytest.raises(InputError) as problem:
        read_rates(path, LEXICON)
    assert str(problem.value).startswith(f"{path}, line {line}: ")
    assert told in str(problem.value)


def test_files_that_are_no_files(tmp_path, price_file):
    with pytest.raises(InputError, match="does not exist"):
        read_prices(tmp_path / "no.csv", LEXICON)
    with pytest.raises(InputError, match="does not exist"):
        read_rates(tmp_path / "no.toml", LEXICON)
    with pytest.raises(InputError, match="is no TOML"):
        read_rates(price_file("part,radiator,,,1,,GBP,\n"), LEXICON)
    damaged = tmp_path / "latin.csv"
    damaged.write_bytes(HEADER.encode() + b"part,radiator,,,1,,GBP,\xa3\n")
    with pytest.raises(InputError, match="line 2: it is no UTF-8"):
        read_prices(damaged, LEXICON)


def test_the_demo_files_are_sound():
    folder = data_folder("demo_notes")
    assert read_prices(folder / "prices.csv", LEXICON).warnings == ()
    assert read_rates(folder / "rates.toml", LEXICON).currency == "GBP"


# --- the command -----------------------------------------------------------------------------------


@pytest.fixture
def run(run, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")
    return run


@pytest.fixture
def shop(run, tmp_path):
    """An archive with one job to estimate and three past ones."""
    for job, price in (("p1", 80), ("p2", 90), ("p3", 130), ("now", None)):
        note = tmp_path / f"{job}.txt"
        said = f", {price} pounds" if price else ". The bonnet is dented. Primer on it. Two hours so far"
        note.write_text(f"Radiator needed{said}.", encoding="utf-8")
        run("add", note, "--job", job, "--dictated", "2024-05-01", "--author", "Kim")
    return run


def test_the_command_estimates_from_the_archive(shop, price_file, rates_file):
    prices = price_file("labour,radiator,,replace,,1.5,,\noutside,bonnet,,paint,120,,GBP,\n")
    rates = rates_file('[[labour]]\nname = "all"\nrate = 40\ncurrency = "GBP"\n[[tax]]\nname = "levy"\npercent = 10\ncurrency = "GBP"\n')
    made = json.loads(shop("estimate", "now", "--prices", prices, "--rates", rates, "--json").out)
    lines = {(line["kind"], line["text"]): line for line in made["lines"]}
    radiator = lines["part", "radiator"]
    assert (radiator["amount_low"], radiator["amount"], radiator["amount_high"]) == ("85.00", "90.00", "110.00")
    assert radiator["unit_price"]["origin"]["jobs"] == ["p1", "p2", "p3"]
    assert lines["labour", "radiator: replace"]["amount"] == "60.00"
    assert lines["outside", "bonnet: paint"]["amount"] == "120.00"
    [total] = made["totals"]
    assert (total["net"], total["taxes"][0]["tax"], total["gross"]) == ("270.00", "27.00", "297.00")
    assert made["to_be_asked"] == sum(line["amount"] is None for line in made["lines"]) == 2
    shown = " ".join(shop("estimate", "now", "--prices", prices, "--rates", rates).out.split())
    assert "90.00 GBP (85.00 to 110.00)" in shown
    assert "2 of 5 lines are to be asked" in shown


def test_a_correction_changes_the_estimate(shop):
    entries = json.loads(shop("job", "p1", "--json").out)["notes"][0]["entries"]
    [cost] = [entry["id"] for entry in entries if entry["kind"] == "cost"]
    shop("correct", cost, "--reject", "--by", "Kim")
    [line] = [one for one in json.loads(shop("estimate", "p1", "--json").out)["lines"] if one["kind"] == "part"]
    assert line["amount"] is None


def test_bad_files_end_with_exit_code_2(shop, price_file, rates_file):
    bad = price_file("part,radiator,,,-1,,GBP,\n")
    assert ", line 2: the price is negative" in shop("estimate", "now", "--prices", bad, code=2).err
    bad = rates_file('[[tax]]\nname = "t"\npercent = 101\ncurrency = "GBP"\n')
    assert ", line 3: percent is 101" in shop("estimate", "now", "--rates", bad, code=2).err
    bad = rates_file('[[limit]]\nquantity = "thickness"\nlow = 25\nhigh = 22\nunit = "mm"\n', "limits.toml")
    assert ", line 3: low is 25 and high is 22, upside down" in shop("job", "now", "--limits", bad, code=2).err
    assert "no job" in shop("estimate", "nowhere", code=2).err


@pytest.mark.parametrize("width", [50, 80, 132])
def test_the_estimate_fits_the_terminal(shop, monkeypatch, width):
    monkeypatch.setenv("COLUMNS", str(width))
    assert max(len(line) for line in shop("estimate", "now").out.splitlines()) <= width


def test_a_job_without_notes(run, tmp_path):
    from notelog.archive import Vehicle

    with Archive(tmp_path / "jobs.sqlite", create=True) as archive:
        archive.set_vehicle("bare", Vehicle.given(year=2016), create=True)
    assert "The job has no notes." in run("estimate", "bare").out
    assert "The job has no notes." in run("job", "bare").out
    assert json.loads(run("estimate", "bare", "--json").out)["lines"] == []


def test_a_note_with_a_date_in_the_future_is_warned_of(run, tmp_path):
    note = tmp_path / "late.txt"
    note.write_text("The radiator is cracked.", encoding="utf-8")
    run("add", note, "--job", "late", "--dictated", "2999-01-01T08:00")
    assert "which is still to come" in " ".join(run("job", "late").out.split())
    assert "which is still to come" in " ".join(run("estimate", "late").out.split())


def test_the_library_gives_the_ledger():
    logs = [notelog.extract("n/s/f lower arm bent, new one ordered"), notelog.extract("Lower arm is fitted.")]
    made = notelog.ledger(logs)
    assert [note.id for note in made.notes] == ["log 1", "log 2"]
    assert made == notelog.ledger([JobNote.of_log(f"log {at}", log) for at, log in enumerate(logs, 1)])
