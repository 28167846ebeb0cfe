"""Hearing: mishearings put right, spoken numbers and quantities as one token, every character mapped back."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from num2words import num2words

from notelog.errors import InputError
from notelog.hearing import Mishearings, hear, load_mishearings
from notelog.hearing.numbers import load_number_words
from notelog.hearing.units import factor, load_units
from notelog.models import Heard, MappedText
from notelog.paths import data_folder

NO_MISHEARINGS = Mishearings({})
MISHEARD = Mishearings(
    {
        ("drop", "blink"): "drop link",
        ("break", "disc"): "brake disc",
        ("track", "rodent"): "track rod end",
        ("rodent",): "rod end",
        ("radiate", "her"): "radiator",
        ("three", "ate"): "three eighths",
        ("s", "r", "s", "modular"): "SRS module",
        ("hub", "knot"): "hub nut",
        ("struck",): "strut",
        ("scene", "sealer"): "seam sealer",
        ("head", "lens"): "headlamp lens",
        ("wheel", "body"): "wheel assembly",
    }
)


def mapped(text: str) -> MappedText:
    """`text` as the spoken text of a note that had nothing but it."""
    return MappedText(text, list(range(len(text))), list(range(1, len(text) + 1)))


def heard(text: str, side: str = "right", mishearings: Mishearings = NO_MISHEARINGS) -> Heard:
    return hear(mapped(text), side, mishearings)


def found(text: str, side: str = "right") -> list[tuple]:
    """The quantities of `text`: (low, high, unit) or, where low and high are the same, (value, unit)."""
    return [
        (quantity.low, quantity.unit) if quantity.low == quantity.high else (quantity.low, quantity.high, quantity.unit)
        for quantity in heard(text, side).quantities
    ]


# --- single phrases: said, the text after hearing, value and unit ----------------------------------------

PHRASES = [
    # millimetres and other lengths
    ("seventeen mil", "17mm", 17, "mm"),
    ("forty mil", "40mm", 40, "mm"),
    ("17 millimetres", "17mm", 17, "mm"),
    ("10 millimeters", "10mm", 10, "mm"),
    ("twenty-two mill", "22mm", 22, "mm"),
    ("nineteen-mil", "19mm", 19, "mm"),
    ("seventeen\nmil", "17mm", 17, "mm"),
    ("a mil", "1mm", 1, "mm"),
    ("one mil", "1mm", 1, "mm"),
    ("half a mil", "0.5mm", 0.5, "mm"),
    ("three quarters of a mil", "0.75mm", 0.75, "mm"),
    ("three tenths of a mil", "0.3mm", 0.3, "mm"),
    ("point eight of a mil", "0.8mm", 0.8, "mm"),
    ("15 thou", "0.015in", 0.015, "in"),
    # inches
    ("three eighths", "0.375in", 0.375, "in"),
    ("3/8", "0.375in", 0.375, "in"),
    ("3 8ths", "0.375in", 0.375, "in"),
    ("7/8ths", "0.875in", 0.875, "in"),
    ("half inch", "0.5in", 0.5, "in"),
    ("half an inch", "0.5in", 0.5, "in"),
    ("half-inch", "0.5in", 0.5, "in"),
    ('5/8"', "0.625in", 0.625, "in"),
    ("9/16", "0.5625in", 0.5625, "in"),
    ("five sixteenths of an inch", "0.3125in", 0.3125, "in"),
    ("seven thirty-seconds", "0.21875in", 0.21875, "in"),
    ("quarter inch", "0.25in", 0.25, "in"),
    ("a quarter of an inch", "0.25in", 0.25, "in"),
    ("three quarters of an inch", "0.75in", 0.75, "in"),
    ("37 and a quarter inches", "37.25in", 37.25, "in"),
    ("37 and an eighth", "37.125in", 37.125, "in"),
    ("an inch and a half", "1.5in", 1.5, "in"),
    ("two and five eighths", "2.625in", 2.625, "in"),
    ("1-1/8", "1.125in", 1.125, "in"),
    ("1 1/8", "1.125in", 1.125, "in"),
    ('2½"', "2.5in", 2.5, "in"),
    # angles
    ("-2.1 deg", "-2.1deg", -2.1, "deg"),
    ("−2.1°", "-2.1deg", -2.1, "deg"),
    ("minus two point one degrees", "-2.1deg", -2.1, "deg"),
    ("minus um two point one degrees", "-2.1deg", -2.1, "deg"),
    ("minus one and a half degrees", "-1.5deg", -1.5, "deg"),
    ("minus 0.4 degrees", "-0.4deg", -0.4, "deg"),
    ("plus one point two degrees", "1.2deg", 1.2, "deg"),
    ("negative two point one", "-2.1", -2.1, ""),
    ("-0.4", "-0.4", -0.4, ""),
    ("half a degree", "0.5deg", 0.5, "deg"),
    ("1°30'", "1.5deg", 1.5, "deg"),
    ("minus one degree thirty minutes", "-1.5deg", -1.5, "deg"),
    ("minus a degree and a half", "-1.5deg", -1.5, "deg"),
    ("fifteen minutes of arc", "15arcmin", 15, "arcmin"),
    ("ten arc minutes", "10arcmin", 10, "arcmin"),
    # torque
    ("110 Nm", "110Nm", 110, "Nm"),
    ("one ten newton metres", "110Nm", 110, "Nm"),
    ("a hundred\nand ten newton metres", "110Nm", 110, "Nm"),
    ("a hundred and um ten newtons", "110Nm", 110, "Nm"),
    ("a hundred. And ten newton metres", "110Nm", 110, "Nm"),
    ("25 N·m", "25Nm", 25, "Nm"),
    ("eighty foot pounds", "80lbft", 80, "lbft"),
    ("120 foot pound", "120lbft", 120, "lbft"),
    ("300 ft-lb", "300lbft", 300, "lbft"),
    ("90 lb ft", "90lbft", 90, "lbft"),
    ("37 foot-pounds", "37lbft", 37, "lbft"),
    ("fifty pounds of torque", "50lbft", 50, "lbft"),
    ("120 inch pounds", "10lbft", 10, "lbft"),
    # torx and threads
    ("T30", "T30", 30, "T"),
    ("T-30", "T30", 30, "T"),
    ("t thirty", "T30", 30, "T"),
    ("M12", "M12", 12, "M"),
    # pressure, volts, ohms, temperature, distance, volume, mass, share
    ("15 psi", "15psi", 15, "psi"),
    ("eighteen. P S I", "18psi", 18, "psi"),
    ("30 pounds of pressure", "30psi", 30, "psi"),
    ("2.2 bar", "2.2bar", 2.2, "bar"),
    ("point nine of a bar", "0.9bar", 0.9, "bar"),
    ("220 kPa", "2.2bar", 2.2, "bar"),
    ("12.6 volts", "12.6V", 12.6, "V"),
    ("12V", "12V", 12, "V"),
    ("4.7 ohms", "4.7ohm", 4.7, "ohm"),
    ("four point seven kilohms", "4700ohm", 4700, "ohm"),
    ("4.7k ohms", "4700ohm", 4700, "ohm"),
    ("1 megohm", "1000000ohm", 1e6, "ohm"),
    ("4k7", "4700ohm", 4700, "ohm"),
    ("88 degrees C", "88C", 88, "C"),
    ("88 °C", "88C", 88, "C"),
    ("eighty eight degrees centigrade", "88C", 88, "C"),
    ("190F", "190F", 190, "F"),
    ("one ninety degrees fahrenheit", "190F", 190, "F"),
    ("sixty two thousand miles", "62000mi", 62000, "mi"),
    ("62k miles", "62000mi", 62000, "mi"),
    ("120,000 km", "120000km", 120000, "km"),
    ("3 litres", "3l", 3, "l"),
    ("half a litre", "0.5l", 0.5, "l"),
    ("500 ml", "0.5l", 0.5, "l"),
    ("250 grams", "0.25kg", 0.25, "kg"),
    ("fifty percent", "50%", 50, "%"),
    # time
    ("hour and a half", "1.5h", 1.5, "h"),
    ("an hour and a half", "1.5h", 1.5, "h"),
    ("an hour", "1h", 1, "h"),
    ("two hours fifteen", "2.25h", 2.25, "h"),
    ("two hours\nfifteen", "2.25h", 2.25, "h"),
    ("two and a half hours", "2.5h", 2.5, "h"),
    ("3 and a half hours", "3.5h", 3.5, "h"),
    ("three quarters of an hour", "0.75h", 0.75, "h"),
    ("forty five minutes", "0.75h", 0.75, "h"),
    ("2h15", "2.25h", 2.25, "h"),
    ("1hr30", "1.5h", 1.5, "h"),
    ("1 hr 45", "1.75h", 1.75, "h"),
    ("1h 30m", "1.5h", 1.5, "h"),
    ("half an hour", "0.5h", 0.5, "h"),
    ("3.5 hrs", "3.5h", 3.5, "h"),
    ("2½ hrs", "2.5h", 2.5, "h"),
    # money
    ("22 quid", "22GBP", 22, "GBP"),
    ("£148.50", "148.5GBP", 148.5, "GBP"),
    ("a hundred and forty eight pound fifty", "148.5GBP", 148.5, "GBP"),
    ("eighty-four quid", "84GBP", 84, "GBP"),
    ("three sixty quid", "360GBP", 360, "GBP"),
    ("fifty p", "0.5GBP", 0.5, "GBP"),
    ("one point two grand", "1200GBP", 1200, "GBP"),
    ("a couple of hundred quid", "200GBP", 200, "GBP"),
    ("£1,250", "1250GBP", 1250, "GBP"),
    ("410 bucks", "410USD", 410, "USD"),
    ("$212", "212USD", 212, "USD"),
    ("50 euros", "50EUR", 50, "EUR"),
    # bare numbers
    ("seventeen", "17", 17, ""),
    ("hundred and ten", "110", 110, ""),
    ("a hundred and ten", "110", 110, ""),
    ("one ten", "110", 110, ""),
    ("one eighty", "180", 180, ""),
    ("two twenty", "220", 220, ""),
    ("one oh five", "105", 105, ""),
    ("six hundred and twelve", "612", 612, ""),
    ("twelve hundred", "1200", 1200, ""),
    ("one point two", "1.2", 1.2, ""),
    ("1 point 5", "1.5", 1.5, ""),
    ("point eight", "0.8", 0.8, ""),
    ("oh point five", "0.5", 0.5, ""),
    ("nought point five", "0.5", 0.5, ""),
    ("zero", "0", 0, ""),
    ("five and a half", "5.5", 5.5, ""),
    ("two and three quarter", "2.75", 2.75, ""),
    ("one and a half", "1.5", 1.5, ""),
    ("a dozen", "12", 12, ""),
    ("half a dozen", "6", 6, ""),
    ("a couple", "2", 2, ""),
]


@pytest.mark.parametrize("said, token, value, unit", PHRASES)
def test_a_phrase_becomes_one_token(said, token, value, unit):
    result = heard(said)
    assert result.mapped.text == token
    (quantity,) = result.quantities
    assert (quantity.start, quantity.end) == (0, len(token))
    assert (quantity.low, quantity.high, quantity.unit) == (value, value, unit)
    assert result.mapped.source_span(quantity.start, quantity.end) == (0, len(said))


@pytest.mark.parametrize("said, token, value, unit", PHRASES)
def test_hearing_what_was_heard_changes_nothing(said, token, value, unit):
    again = heard(token)
    assert again.mapped.text == token
    assert [(quantity.low, quantity.unit) for quantity in again.quantities] == [(value, unit)]


@pytest.mark.parametrize("said, token, value, unit", PHRASES)
def test_a_phrase_inside_a_sentence_leaves_the_words_and_the_full_stop(said, token, value, unit):
    result = heard(f"the gauge says {said}. Nothing else")
    assert result.mapped.text == f"the gauge says {token}. Nothing else"


RANGES = [
    ("between one and one point five degrees", "1-1.5deg", 1, 1.5, "deg"),
    ("1 to 1.5", "1-1.5", 1, 1.5, ""),
    ("two to three mil", "2-3mm", 2, 3, "mm"),
    ("6-7 mm", "6-7mm", 6, 7, "mm"),
    ("6 – 7 mm", "6-7mm", 6, 7, "mm"),
    ("two or three mil", "2-3mm", 2, 3, "mm"),
    ("one to two mil", "1-2mm", 1, 2, "mm"),
    ("18 or 19 mil", "18-19mm", 18, 19, "mm"),
    ("2 mm to 3 mm", "2-3mm", 2, 3, "mm"),
    ("four to five", "4-5", 4, 5, ""),
    ("thirty to forty five minutes", "0.5-0.75h", 0.5, 0.75, "h"),
    ("an hour or two", "1-2h", 1, 2, "h"),
    ("two to three hundred quid", "200-300GBP", 200, 300, "GBP"),
    ("£200-£300", "200-300GBP", 200, 300, "GBP"),
    ("minus one to minus one and a half degrees", "-1.5--1deg", -1.5, -1, "deg"),
    ("between -1 and -1.5 degrees", "-1.5--1deg", -1.5, -1, "deg"),
    ("one ten to one twenty newton metres", "110-120Nm", 110, 120, "Nm"),
]


@pytest.mark.parametrize("said, token, low, high, unit", RANGES)
def test_a_range_has_the_smaller_number_as_low(said, token, low, high, unit):
    result = heard(f"it reads {said}, I think")
    assert result.mapped.text == f"it reads {token}, I think"
    (quantity,) = result.quantities
    assert (quantity.low, quantity.high, quantity.unit) == (low, high, unit)


@pytest.mark.parametrize(
    "said, pitch",
    [
        ("M12x1.5", 1.5),
        ("M12 x 1.5", 1.5),
        ("M twelve by one point five", 1.5),
        ("m 12 by 1.5", 1.5),
        ("M12-1.75", 1.75),
        ("em twelve by one point two five", 1.25),
    ],
)
def test_a_thread_has_its_pitch(said, pitch):
    (quantity,) = heard(said).quantities
    assert (quantity.low, quantity.unit, quantity.pitch) == (12, "M", pitch)
    assert heard(said).mapped.text == f"M12x{pitch}"


@pytest.mark.parametrize("diameter, pitch", [(6, 1), (8, 1.25), (10, 1.5), (12, 1.75), (14, 2), (16, 2)])
def test_every_coarse_pitch_is_taken_for_a_pitch(diameter, pitch):
    """Values: ISO 262, coarse series."""
    (quantity,) = heard(f"an M{diameter} by {pitch} bolt").quantities
    assert (quantity.low, quantity.pitch) == (diameter, pitch)


def test_a_length_or_a_count_behind_a_thread_is_no_pitch():
    assert [quantity.pitch for quantity in heard("M8 x 40").quantities if quantity.unit == "M"] == [None]
    assert found("M8 x 4") == [(8, "M"), (4, "")]


# --- what is left alone, or is only a bare number --------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "the wheel sits a quarter turn off, half off its mount, stuck half way",
        "a half ton pickup, three quarters of the way, two thirds gone, an eighth of a turn",
        "left quarter panel, half shaft and a quarter light",
        "the first one and the second, the other two, one of them, this one",
        "a 4x4 with an E12 socket, 205/55R16 tyres and 5W-30 oil",
        "at 10:30 on 24/11 or 24/11/2024 or 2024-11-24, version 1.2.3",
        "snapped in two, so I binned it, and it fell in two pieces",
        "twenty-odd clips, forty-some welds, a five-speed box, a 4-wheel align",
        "no play, zero play, nought wrong with it",
        "a point of impact, the bar is bent, a pound shop, in total",
        "hundreds of them; a few; several; the lot",
        "123456789012345 is no reading",
        "the negative lead and the plus side",
    ],
)
def test_what_is_no_quantity_is_left_alone(text):
    result = heard(text)
    assert result.quantities == []
    assert result.mapped == mapped(text)


@pytest.mark.parametrize(
    "text, quantities",
    [
        ("17, no, sorry, 19 mil", [(17, ""), (19, "mm")]),
        ("two T forty no T twenty seven bits", [(2, ""), (40, "T"), (27, "T")]),
        ("job 5071 and 3306.", [(5071, ""), (3306, "")]),
        ("half three or 10 o'clock", [(3, ""), (10, "")]),
        ("quarter to five", [(5, "")]),
        ("torx thirty", [(30, "")]),
        ("two seventeen mil bolts", [(2, ""), (17, "mm")]),
        ("one ten mil bolt", [(10, "mm")]),
        ("two ninety degree elbows", [(2, ""), (90, "deg")]),
        ("two ten bolts", [(2, ""), (10, "")]),
        ("4 x 16mm bolts, 5 x T20, 4xM8", [(4, ""), (16, "mm"), (5, ""), (20, "T"), (4, ""), (8, "M")]),
        ("two 13s and two seventeens", [(2, ""), (13, ""), (2, ""), (17, "")]),
        ("one or two clips", [(2, "")]),
        ("swapped that one to 14 mil", [(14, "mm")]),
        ("fifty mile an hour at forty quid an hour", [(50, ""), (40, "GBP")]),
        ("22 in the middle and 2.5 in from the edge", [(22, ""), (2.5, "in")]),
        ("1/2 in the box, 1/2 full", []),
        ("end float .018 in. or so", [(0.018, "in")]),
        ('he said "get 17" and a 10" disc', [(17, ""), (10, "in")]),
        ("a 17 and a half inch drive ratchet", [(17, ""), (0.5, "in")]),
        ("2 V-belts, 2 l/h doors, 12v battery", [(2, ""), (2, ""), (12, "V")]),
        ("an hour and ten clips", [(1, "h"), (10, "")]),
        ("the negative ten mil nut", [(10, "mm")]),
        ("-2 bolts\n- 3 clips\n-1.5 deg", [(2, ""), (3, ""), (-1.5, "deg")]),
        ("two clips plus three bolts", [(2, ""), (3, "")]),
        ("one bar bent, two bar of boost", [(2, "bar")]),
        ("counted 2.2. Bar came off", [(2.2, "")]),
        ("offside minus a half", [(-0.5, "")]),
        ("seventeen.\nFive bolts", [(17, ""), (5, "")]),
        ("plus or minus half a degree", [(0.5, "deg")]),
        ("a grand total of six hours, cost a grand", [(6, "h"), (1000, "GBP")]),
        ("4 3/8 bolts", [(4, ""), (0.375, "in")]),
    ],
)
def test_neighbours_are_kept_apart(text, quantities):
    assert found(text) == quantities


@pytest.mark.parametrize(
    "text, value",
    [
        ("three eighths drive", 0.375),
        ("3 8 drive", 0.375),
        ("nine sixteen socket", 0.5625),
        ("1 2 drive", 0.5),
        ("three quarter drive", 0.75),
        ("quarter drive", 0.25),
        ("3/4 breaker bar", 0.75),
        ("1/2 ratchet", 0.5),
    ],
)
def test_a_share_before_a_tool_is_inches(text, value):
    (quantity,) = heard(text).quantities
    assert (quantity.low, quantity.unit) == (value, "in")


# --- sentences that no rule was made from ----------------------------------------------------------------


@pytest.mark.parametrize(
    "text, side, expected",
    [
        (
            "Caster came up at four and three quarter degrees on the left, five on the right, toe point two of a degree in.",
            "right",
            "Caster came up at 4.75deg on the left, 5 on the right, toe 0.2deg in.",
        ),
        (
            "disc measured at twenty one point four mil and the run out is five thou, so two discs at sixty eight fifty",
            "right",
            "disc measured at 21.4mm and the run out is 0.005in, so 2 discs at 68 50",
        ),
        (
            "hold it with a six mil key, do the top nut up to sixty five newton\nmetres, then an hour and forty on the rack",
            "right",
            "hold it with a 6mm key, do the top nut up to 65Nm, then 1.666667h on the rack",
        ),
        (
            "I paid a buck fifty for clips, two hundred ten dollars for the arm, and torqued it to eighty pounds",
            "left",
            "I paid 1.5USD for clips, 210USD for the arm, and torqued it to 80lbft",
        ),
        (
            "sensor reads one point two kilohms cold, eleven point nine volts at the plug, sixty three thousand miles",
            "left",
            "sensor reads 1200ohm cold, 11.9V at the plug, 63000mi",
        ),
        (
            "rear pads are between three and four mil, fronts eight or nine mil, fluid half a litre",
            "right",
            "rear pads are 3-4mm, fronts 8-9mm, fluid 0.5l",
        ),
        (
            "gap: 4.5mm top / 6mm btm. 3no M6 clips @ £2.40, 1hr 15.",
            "right",
            "gap: 4.5mm top / 6mm btm. 3no M6 clips @ 2.4GBP, 1.25h.",
        ),
    ],
)
def test_new_sentences(text, side, expected):
    assert heard(text, side).mapped.text == expected


def test_money_depends_on_the_drivers_side():
    assert found("forty two pounds, two grand", "right") == [(42, "GBP"), (2000, "GBP")]
    assert found("forty two pounds, two grand", "left") == [(42, ""), (2000, "USD")]


@pytest.mark.parametrize("side", ["left", "right"])
def test_pounds_are_torque_or_pressure_where_the_words_before_say_so(side):
    assert found("torqued the nuts to ninety pounds", side) == [(90, "lbft")]
    assert found("tyre pressure was down at twenty pounds", side) == [(20, "psi")]


# --- an independent library says the numbers --------------------------------------------------------------


def test_every_number_to_9999_is_heard_as_said():
    """num2words says the numbers; its comma after the thousands is not spoken."""
    numbers = range(10000)
    said = [num2words(number).replace(",", "") for number in numbers]
    text = "; ".join(f"{words} newton metres" for words in said)
    assert [(quantity.low, quantity.unit) for quantity in heard(text).quantities] == [(n, "Nm") for n in numbers]
    bare = "; ".join(words for number, words in enumerate(said) if number != 1)
    assert [quantity.low for quantity in heard(bare).quantities] == [n for n in numbers if n != 1]


def test_numbers_said_without_and_are_the_same():
    numbers = [number for number in range(101, 10000, 7)]
    text = "; ".join(num2words(number).replace(",", "").replace(" and", "") for number in numbers)
    assert [quantity.low for quantity in heard(text).quantities] == numbers


def test_decimals_are_heard_as_said():
    numbers = [round(number * 0.07 + 0.01, 2) for number in range(2000)]
    text = "; ".join(num2words(number) for number in numbers)
    assert [quantity.low for quantity in heard(text).quantities] == numbers


def test_thousands_of_miles_are_heard_as_said():
    numbers = range(10_000, 300_000, 1371)
    text = "; ".join(f"{num2words(number).replace(',', '')} miles" for number in numbers)
    assert [(quantity.low, quantity.unit) for quantity in heard(text).quantities] == [(n, "mi") for n in numbers]


@pytest.mark.parametrize("space", ["-", " "])
def test_ordinals_stay_words(space):
    text = "; ".join(f"the {num2words(number, to='ordinal').replace('-', space)} bolt" for number in range(1, 100))
    assert heard(text).mapped.text == text


# --- units ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "measured_in, converted_to, value",
    [
        ("inch", "millimeter", 25.4),
        ("foot * force_pound", "newton * meter", 1.355818),
        ("inch * force_pound", "newton * meter", 0.112985),
        ("psi", "kilopascal", 6.894757),
        ("bar", "kilopascal", 100),
        ("inch * force_pound", "foot * force_pound", 1 / 12),
    ],
)
def test_conversion_factors_are_the_published_ones(measured_in, converted_to, value):
    """Values: NIST SP 811, appendix B.8."""
    assert factor(measured_in, converted_to) == pytest.approx(value, rel=5e-6)


@pytest.mark.parametrize("side", ["left", "right"])
def test_every_name_of_every_unit_is_heard(side):
    missed = []
    for rows in load_units(driver_side=side).names.values():
        for words, unit in rows:
            name = " ".join(words)
            value = round(unit.convert(7.5), 6)
            if found(f"it was 7.5 {name} there", side) != [(value, unit.unit)]:
                missed.append(name)
    assert missed == []


def test_every_kind_of_unit_is_one_the_models_name():
    known = {"mm", "cm", "in", "deg", "arcmin", "Nm", "lbft", "bar", "psi", "V", "ohm", "C", "F", "km", "mi", "l", "kg"}
    known |= {"h", "%", "GBP", "USD", "EUR"}
    with (data_folder("lexicon") / "units.csv").open(encoding="utf-8", newline="") as file:
        assert {row["unit"] for row in csv.DictReader(file)} == known


# --- mishearings ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "said, meant",
    [
        ("the drop blink is snapped", "the drop link is snapped"),
        ("both drop blinks have gone", "both drop links have gone"),
        ("Break disc is scored", "Brake disc is scored"),
        ("break\ndiscs", "brake discs"),
        ("a track rodent and a rodent", "a track rod end and a rod end"),
        ("the radiate her's leaking", "the radiator's leaking"),
        ("the S R S modular is locked", "the SRS module is locked"),
        ("struck, strucks", "strut, struts"),
        ("two wheel bodys", "2 wheel assemblies"),
        ("break-disc", "brake disc"),
        ("three ate drive", "0.375in drive"),
        ("it struck. Her drop, blink", "it strut. Her drop, blink"),
    ],
)
def test_known_mishearings_are_put_right(said, meant):
    assert heard(said, mishearings=MISHEARD).mapped.text == meant


def test_a_repair_says_what_was_said_and_where_it_stands():
    said = "twenty mil nut on the drop blinks, three ate drive, hub knot tea thirty"
    result = heard(said, mishearings=MISHEARD)
    text = result.mapped.text
    assert text == "20mm nut on the drop links, 0.375in drive, hub nut T30"
    assert [(repair.said, repair.meant) for repair in result.repairs] == [
        ("drop blinks", "drop links"),
        ("three ate", "0.375in"),
        ("hub knot", "hub nut"),
        ("tea thirty", "T30"),
    ]
    for repair in result.repairs:
        assert text[repair.start : repair.end] == repair.meant
        start, end = result.mapped.source_span(repair.start, repair.end)
        assert said[start:end] == repair.said


def test_a_mapping_from_stamped_text_is_kept():
    verbatim = "a hundred [0:42] and ten Nm drop [0:44] blink"
    spoken = MappedText("", [], [])
    for match in re.finditer(r"\S+", verbatim):
        if not match[0].startswith("["):
            if spoken.text:
                spoken.text += " "
                spoken.starts.append(spoken.ends[-1])
                spoken.ends.append(match.start())
            spoken.text += match[0]
            spoken.starts += range(match.start(), match.end())
            spoken.ends += range(match.start() + 1, match.end() + 1)
    result = hear(spoken, mishearings=MISHEARD)
    assert result.mapped.text == "110Nm drop link"
    assert result.mapped.source_span(0, 5) == (0, verbatim.index(" drop"))
    assert result.mapped.source_span(6, 15) == (verbatim.index("drop"), len(verbatim))


def test_a_plain_dict_of_mishearings_will_do():
    assert hear(mapped("hub knots"), mishearings={("hub", "knot"): "hub nut"}).mapped.text == "hub nuts"


def write(folder: Path, text: str | bytes) -> Path:
    (folder / "mishearings.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def test_mishearings_are_loaded_from_a_table(tmp_path):
    table = load_mishearings(write(tmp_path, 'heard,meant\nDrop Blink,drop link\n"hub knot",hub nut\n'))
    assert table == {("drop", "blink"): "drop link", ("hub", "knot"): "hub nut"}


@pytest.mark.parametrize(
    "content, complaint",
    [
        ("said,meant\na,b\n", "must begin with"),
        ("heard,meant\na\n", "line 2 has 1 cells"),
        ("heard,meant\nx,y\n,b\n", "line 3 has an empty cell"),
        ("heard,meant\nhub knot,hub nut\nHub knot,hub knot\n", "line 3 gives 'hub knot' a second meaning"),
        (b"heard,meant\n\xff,b\n", "not UTF-8"),
        ("", "must begin with"),
    ],
)
def test_a_bad_table_of_mishearings_is_refused(tmp_path, content, complaint):
    with pytest.raises(InputError, match=complaint):
        load_mishearings(write(tmp_path, content))


def test_missing_tables_are_refused(tmp_path):
    for load in (load_mishearings, load_number_words, load_units):
        with pytest.raises(InputError, match="is missing"):
            load(tmp_path)


@pytest.mark.parametrize(
    "name, content, load, complaint",
    [
        ("number_words.csv", "word,kind,value\neleven,teen,x\n", load_number_words, "line 2 has the value 'x'"),
        ("number_words.csv", "word,kind,value\neleven,,11\n", load_number_words, "line 2 has an empty cell"),
        (
            "units.csv",
            "unit,pint,times,names,close,over_stop,hundreds,single,side\nmm,millimeter,x,mm,,,,,\n",
            load_units,
            "line 2 has the factor 'x'",
        ),
        (
            "units.csv",
            "unit,pint,times,names,close,over_stop,hundreds,single,side\nmm,millimeter,,,,,,,\n",
            load_units,
            "lacks the unit or its names",
        ),
        (
            "units.csv",
            "unit,pint,times,names,close,over_stop,hundreds,single,side\nmm,millimeter,,mm,,,,,\n",
            load_units,
            "has no row for the unit",
        ),
    ],
)
def test_bad_tables_are_refused(tmp_path, name, content, load, complaint):
    (tmp_path / name).write_text(content, encoding="utf-8")
    with pytest.raises(InputError, match=complaint):
        load(tmp_path)


def test_a_conversion_between_different_things_is_refused():
    with pytest.raises(InputError, match="cannot be turned into"):
        factor("volt", "inch")


# --- properties -------------------------------------------------------------------------------------------

NUMBER_WORDS = load_number_words()
NUMERIC_KINDS = (
    "digit", "oh", "teen", "teens", "ten", "scale", "thousands", "group", "share", "inch share", "split share",
    "article", "point",
)  # fmt: skip
NUMERIC = {word for kind in NUMERIC_KINDS for word in NUMBER_WORDS[kind]}
UNIT_WORDS = {word for rows in load_units().names.values() for words, _ in rows for word in words}
EVERYTHING = sorted({word for words in NUMBER_WORDS.values() for word in words} | UNIT_WORDS)
SHAPES = ["17", "2.1", "3/8", "1,200", "4x4", "M12x1.5", "T30", "10:30", "24/11", "½", "2½", "62k", "2h15", "4k7",
          ".5", "-1", "£5", "$", "€9", "\n", "\n\n", ".", ",", "-", "–", "(", '"', "°", "°30'", "%", "/", "x", "the",
          "bolt", "hub", "drop", "blink", "ate", "rodent", "her"]  # fmt: skip
NUMERIC_PIECES = st.lists(
    st.tuples(
        st.sampled_from(
            [*sorted(NUMERIC), "and", "to", "or", "of", "mil", "hours", "quid", "inch", "degrees", "17", "3/8"]
        ),
        st.sampled_from([" ", " ", " ", "-", ". "]),
    ),
    max_size=15,
)
PIECES = st.lists(
    st.tuples(st.sampled_from(EVERYTHING + SHAPES), st.sampled_from(["", " ", " ", " ", "\n"])), max_size=40
)


def check(text: str, result: Heard) -> None:
    """The promises about offsets, for a spoken text that is the verbatim text."""
    new = result.mapped
    assert len(new.text) == len(new.starts) == len(new.ends)
    assert new.starts == sorted(new.starts) and new.ends == sorted(new.ends)
    assert all(0 <= start < end <= len(text) for start, end in zip(new.starts, new.ends))
    last = 0
    for quantity in result.quantities:
        assert last <= quantity.start < quantity.end <= len(new.text)
        last = quantity.end
        assert quantity.low <= quantity.high
        start, end = new.source_span(quantity.start, quantity.end)
        source = text[start:end].lower()
        words = set(re.findall(r"[^\W\d_]+", source))
        assert re.search("[0-9½¼¾⅛⅜⅝⅞]", source) or words & NUMERIC
    for repair in result.repairs:
        assert new.text[repair.start : repair.end] == repair.meant


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=200))
def test_any_text_can_be_heard(text):
    check(text, heard(text, mishearings=MISHEARD))


@settings(max_examples=600, deadline=None)
@example([("one 8 inch", "-"), ("sixteenth", ""), ("3 8 inch", "-"), ("zero", " ")], "right")
@given(PIECES | NUMERIC_PIECES, st.sampled_from(["left", "right"]))
def test_any_heap_of_number_words_can_be_heard(pieces, side):
    text = "".join(piece + gap for piece, gap in pieces)
    check(text, heard(text, side, MISHEARD))


@settings(max_examples=200, deadline=None)
@given(PIECES)
def test_words_beside_quantities_are_untouched(pieces):
    text = "".join(piece + gap for piece, gap in pieces)
    result = heard(text)
    kept, at = "", 0
    source_kept, source_at = "", 0
    for quantity in result.quantities:
        start, end = result.mapped.source_span(quantity.start, quantity.end)
        kept, at = kept + result.mapped.text[at : quantity.start], quantity.end
        source_kept, source_at = source_kept + text[source_at:start], end
    assert kept + result.mapped.text[at:] == source_kept + text[source_at:]


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.sampled_from(["the", "hub", "is", "bent,", "and", "so", "off!", "(again)", "né", "--", "ok\n", "I"]))
)
def test_text_without_numbers_or_mishearings_is_unchanged(words):
    text = " ".join(words)
    result = heard(text)
    assert result.mapped == mapped(text)
    assert (result.quantities, result.repairs) == ([], [])
