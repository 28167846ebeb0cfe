"""Vehicle identification numbers: alphabet and length of ISO 3779, check digit of 49 CFR 565."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from notelog.archive.vin import check_digit, check_vin, weighted_sum
from notelog.errors import InputError

ALPHABET = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"
vins = st.text(ALPHABET, min_size=17, max_size=17)
north_american = st.builds(
    lambda first, rest: first + rest, st.sampled_from("12345"), st.text(ALPHABET, min_size=16, max_size=16)
).map(lambda vin: vin[:8] + check_digit(vin) + vin[9:])

# Transliteration and weights written out letter by letter from 49 CFR 565, tables III and IV (from memory), apart
# from the tables of the product, so that a slip in either shows.
VALUE = {**{str(n): n for n in range(10)}, **dict(zip("ABCDEFGH", "12345678")),
         **dict(zip("JKLMNPR", "1234579")), **dict(zip("STUVWXYZ", "23456789"))}  # fmt: skip
WEIGHT = {1: 8, 2: 7, 3: 6, 4: 5, 5: 4, 6: 3, 7: 2, 8: 10, 9: 0, 10: 9, 11: 8, 12: 7, 13: 6, 14: 5, 15: 4, 16: 3, 17: 2}


@pytest.mark.parametrize(
    ("sample", "total", "digit"),
    [
        # 49 CFR 565, table V: the sample sums to 411, remainder 4
        ("1G4AH59H_5G118341", 411, "4"),
        # a widely published worked example: sums to 351, remainder 10, written X
        ("1M8GDM9A_KP042788", 351, "X"),
    ],
)
def test_published_samples(sample, total, digit):
    assert weighted_sum(sample) == total
    assert check_digit(sample) == digit
    assert check_vin(sample.replace("_", digit)) == sample.replace("_", digit)


def test_seventeen_ones_are_sound():
    # widely published as the simplest test number: every value is 1, the weights sum to 89, and 89 mod 11 is 1
    assert weighted_sum("1" * 17) == sum(WEIGHT.values()) == 89
    assert check_vin("1" * 17) == "1" * 17


@given(vins)
def test_sum_is_that_of_the_tables(vin):
    assert weighted_sum(vin) == sum(int(VALUE[letter]) * WEIGHT[place] for place, letter in enumerate(vin, start=1))


@given(north_american, st.sampled_from("0123456789X"))
def test_one_wrong_check_digit_is_found(vin, other):
    changed = vin[:8] + other + vin[9:]
    if other == vin[8]:
        assert check_vin(changed) == vin
    else:
        with pytest.raises(InputError, match="check digit"):
            check_vin(changed)


@given(north_american, st.integers(0, 16), st.sampled_from("0123456789"))
def test_one_misread_figure_is_found(vin, place, figure):
    # one figure read for another changes the sum by (difference x weight), which 11, a prime, never divides
    if place == 8 or not vin[place].isdigit() or vin[place] == figure or (place == 0 and figure not in "12345"):
        return
    with pytest.raises(InputError, match="check digit"):
        check_vin(vin[:place] + figure + vin[place + 1 :])


@given(st.sampled_from("SVWYZJKL6789"), st.text(ALPHABET, min_size=16, max_size=16))
def test_elsewhere_no_check_digit_is_asked_for(first, rest):
    assert check_vin(first + rest) == first + rest


@given(vins, st.integers(0, 16), st.sampled_from("IOQ_*é"))
def test_alphabet(vin, place, letter):
    with pytest.raises(InputError, match=f"position {place + 1}:"):
        check_vin(vin[:place] + letter + vin[place + 1 :])


@pytest.mark.parametrize("vin", ["", "1M8GDM9AXKP04278", "1M8GDM9AXKP0427888"])
def test_length(vin):
    with pytest.raises(InputError, match=f"has {len(vin)} characters and should have 17"):
        check_vin(vin)


def test_written_with_spaces_hyphens_and_small_letters():
    assert check_vin(" 1m8-gdm9a xkp 042788 ") == "1M8GDM9AXKP042788"
