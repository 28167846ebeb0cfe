"""Reading: formats found from the content, verbatim text, spoken text mapped to it, times, encodings, refusals."""

from __future__ import annotations

import hashlib
import io
import json
import re
import sys
import time

import pysubs2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from notelog.errors import InputError
from notelog.models import Note, Segment
from notelog.reading import MAX_BYTES, read_bytes, read_file, read_text

PLAIN = "Offside rear trailing arm is twisted.\nHub carrier's straight, bearing quiet.\n"


def times(note: Note) -> list[tuple[str, float, float | None]]:
    """The verbatim words of each segment with its times."""
    return [(note.text[segment.start : segment.end], segment.t_start, segment.t_end) for segment in note.segments]


def assert_mapped(note: Note) -> None:
    """Every spoken character stands for a verbatim one that equals it, white space for white space; order is kept.

    Only the space that joins words glued to a stamp ("ball[0:42]joint") stands for the stamp.
    """
    spoken = note.spoken
    assert len(spoken.text) == len(spoken.starts) == len(spoken.ends)
    for char, start, end in zip(spoken.text, spoken.starts, spoken.ends):
        source = note.text[start:end]
        gap = re.sub("[\x1a\u200b\ufeff]", "", source)
        glued = note.format == "stamped" and char == " " and re.fullmatch(r"([\[(]\S+[\])])+", gap)
        assert source == char or (char.isspace() and source.isspace()) or glued, (char, source)
    assert all(end <= start for end, start in zip(spoken.ends, spoken.starts[1:]))
    assert_segments(note)


def assert_segments(note: Note) -> None:
    """Segments are in order, apart, within the text, begin and end with words, and do not end before they begin."""
    at = 0
    for segment in note.segments:
        assert at <= segment.start < segment.end <= len(note.text)
        assert note.text[segment.start : segment.end].strip() == note.text[segment.start : segment.end]
        assert segment.t_end is None or segment.t_end >= segment.t_start >= 0
        at = segment.end


# --- plain text ------------------------------------------------------------------------------------


def test_plain_text_is_kept_as_it_is():
    note = read_text(PLAIN, "bay4.txt")
    assert (note.text, note.spoken.text, note.format, note.source) == (PLAIN, PLAIN, "text", "bay4.txt")
    assert note.segments == [] and note.warnings == []
    assert note.sha256 == hashlib.sha256(PLAIN.encode()).hexdigest()
    assert_mapped(note)


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_line_ends_are_kept_in_the_text_and_become_newlines_in_what_was_said(line_end):
    text = PLAIN.replace("\n", line_end)
    note = read_bytes(text.encode(), "bay4.txt")
    assert note.text == text
    assert note.spoken.text == PLAIN
    at = PLAIN.index("Hub")
    start, end = note.spoken.source_span(at, at + 3)
    assert note.text[start:end] == "Hub"
    newline = PLAIN.index("\n")
    assert note.text[slice(*note.spoken.source_span(newline, newline + 1))] == line_end
    assert_mapped(note)


@pytest.mark.parametrize(
    "text",
    [
        "Came in at 10:30, wheel was already off.",
        "He rang at 9:15 and again at 16:45, wants it back.\nMix the filler 1:50 by weight.",
        "10:30 the van came in.\nNothing bent underneath.",
        "Set the clock to 12:00:00 once the battery was on.",
        "Job 4:3, see sheet [12] and note (b), ratio 10:1 primer.",
        "8:30am started on the rack\n11:45am stopped for parts",
        "8:30 to 9:15 on the rack\n9:15 to 10:00 on the bench",
        "11:30 second reading\n9:20 first reading",
        "camber -0.5 --> -1.5 after the pull",
    ],
)
def test_a_time_in_prose_is_no_stamp(text):
    note = read_text(text)
    assert (note.format, note.spoken.text, note.segments) == ("text", text, [])


# --- stamps ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stamp", "seconds"),
    [
        ("[0:42]", 42),
        ("[00:42]", 42),
        ("[1:02:03]", 3723),
        ("(2:10)", 130),
        ("( 2:10 )", 130),
        ("[75:20]", 4520),
        ("[00:00:42.500]", 42.5),
        ("[0:42,25]", 42.25),
    ],
)
def test_a_bracketed_stamp_counts_even_inside_a_phrase(stamp, seconds):
    for text in (
        f"the track rod {stamp} end is bent",
        f"the track rod{stamp}end is bent",
        f"the track rod\n{stamp} end is bent",
    ):
        note = read_text(text)
        assert note.format == "stamped"
        assert note.spoken.text == "the track rod end is bent"
        assert times(note) == [("end is bent", seconds, None)]
        at = note.spoken.text.index("rod end")
        start, end = note.spoken.source_span(at, at + len("rod end"))
        assert note.text[start:end].startswith("rod") and note.text[start:end].endswith("end")


def test_stamped_lines_are_joined_and_timed_from_stamp_to_stamp():
    text = "[0:05] the nearside lower\r\n[0:09] wishbone is kinked and the\r\n\r\n[0:14] bush has split\r\n"
    note = read_text(text)
    assert note.spoken.text == "the nearside lower wishbone is kinked and the bush has split"
    assert times(note) == [
        ("the nearside lower", 5, 9),
        ("wishbone is kinked and the", 9, 14),
        ("bush has split", 14, None),
    ]
    assert note.text == text
    assert_mapped(note)


def test_bare_times_count_when_two_lines_begin_with_one():
    text = "00:01:15 the damper is\n00:01:19 weeping at the seal\n00:01:24 - and the spring is fine\n"
    note = read_text(text)
    assert note.spoken.text == "the damper is weeping at the seal and the spring is fine"
    assert [(begin, end) for _, begin, end in times(note)] == [(75, 79), (79, 84), (84, None)]
    assert_mapped(note)


def test_bare_times_on_lines_of_their_own():
    note = read_text("0:00\nso the condenser\nis folded in half\n0:06\nand the slam panel\n0:09\nis bent")
    assert note.spoken.text == "so the condenser is folded in half and the slam panel is bent"
    assert [(begin, end) for _, begin, end in times(note)] == [(0, 6), (6, 9), (9, None)]


def test_a_bare_time_inside_a_line_counts_only_between_the_times_around_it():
    note = read_text("0:10 undo the 0:12 pinch bolt\n0:15 it came in at 10:30 this morning\n0:19 done")
    assert note.spoken.text == "undo the pinch bolt it came in at 10:30 this morning done"
    assert [segment.t_start for segment in note.segments] == [10, 12, 15, 19]


def test_a_range_gives_both_times():
    note = read_text("[00:00.000 --> 00:05.900]  the rear beam\n[00:06.400 --> 00:08.000]  is straight")
    assert note.spoken.text == "the rear beam is straight"
    assert times(note) == [("the rear beam", 0, 5.9), ("is straight", 6.4, 8)]


def test_words_before_the_first_stamp_have_no_time_and_times_that_run_back_give_no_end():
    note = read_text("job two [0:30] wing off [0:10] door dented")
    assert note.spoken.text == "job two wing off door dented"
    assert times(note) == [("wing off", 30, None), ("door dented", 10, None)]


def test_a_lone_stamp_leaves_other_line_ends_alone():
    note = read_text("o/s/f strut bent\nn/s/f strut ok\nrear [1:10] beam twisted\ntowing eye missing")
    assert note.spoken.text == "o/s/f strut bent\nn/s/f strut ok\nrear beam twisted\ntowing eye missing"


# --- SubRip ----------------------------------------------------------------------------------------

SRT = (
    "1\n00:00:01,200 --> 00:00:04,000\nthe <i>upper</i> ball\n\n"
    "2\n00:00:04,000 --> 00:00:07,250\njoint has dropped out\nof the {\\an8}taper\n\n"
    "3\n00:00:07,250 --> 00:00:09,000\nthe nut is\n22 mil\n"
)


def test_subrip():
    note = read_text(SRT)
    assert (note.format, note.warnings) == ("srt", [])
    assert note.spoken.text == "the upper ball joint has dropped out of the taper the nut is 22 mil"
    assert [(segment.t_start, segment.t_end) for segment in note.segments] == [(1.2, 4), (4, 7.25), (7.25, 9)]
    assert times(note)[0][0] == "the <i>upper</i> ball"
    assert_mapped(note)


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_subrip_agrees_with_pysubs2(line_end):
    note = read_bytes(SRT.replace("\n", line_end).encode("utf-8-sig"), "dictation")
    reference = pysubs2.SSAFile.from_string(SRT, format_="srt")
    assert note.spoken.text == " ".join(event.plaintext.replace("\n", " ") for event in reference)
    assert [(segment.t_start * 1000, segment.t_end * 1000) for segment in note.segments] == [
        (event.start, event.end) for event in reference
    ]
    assert_mapped(note)


def test_words_that_are_only_a_number_are_kept():
    """Here pysubs2 differs: it takes a number at a cue's end for the number of the next cue, whatever follows."""
    note = read_text("1\n00:00:01,000 --> 00:00:02,000\nit is a\n19\n\n2\n00:00:02,000 --> 00:00:03,000\nand a\n22\n")
    assert note.spoken.text == "it is a 19 and a 22"


def test_subrip_without_numbers_and_empty_lines():
    note = read_text("00:00:01,000 --> 00:00:02,000\nsubframe\n00:00:02,000 --> 00:00:03,000\nis straight")
    assert note.spoken.text == "subframe is straight"
    assert len(note.segments) == 2


def test_broken_subrip_is_read_as_far_as_it_can_be():
    note = read_text(
        "1\n00:00:01,000 -> 00:00:02,000\ncoil spring\n\n2\n00:00:xx,000 --> 00:00:04,000\nis snapped at\n\n"
        "3\n00:00:09,000 --> 00:00:05,000\nthe bottom turn\n\n4\n00:00:99,000 --> 00:01:05,000\nand the seat\n"
    )
    assert note.format == "srt"
    assert note.spoken.text == "coil spring is snapped at the bottom turn and the seat"
    assert times(note) == [("coil spring", 1, 2), ("the bottom turn", 9, None)]
    assert [warning.split(":")[0] for warning in note.warnings] == ["line 2", "line 6", "line 10", "line 14"]


def test_words_before_the_first_subrip_cue_are_kept():
    note = read_text("front end of the tipper\n\n1\n00:00:01,000 --> 00:00:02,000\naxle is bent\n")
    assert note.spoken.text == "front end of the tipper axle is bent"
    assert "line 1" in note.warnings[0]


def test_less_than_and_arrows_are_words():
    note = read_text("1\n00:00:01,000 --> 00:00:02,000\npads <3 mm --> change them\n")
    assert note.spoken.text == "pads <3 mm --> change them"


# --- WebVTT: W3C "WebVTT: The Web Video Text Tracks Format", rules cited by chapter, from memory -----


def test_webvtt_blocks_that_are_no_cues_are_left_out():
    """Chapters "File structure", "Regions", "Styling", "Comments": header text, STYLE, REGION and NOTE blocks."""
    note = read_text(
        "\ufeffWEBVTT - left side\nKind: captions\n\nSTYLE\n::cue(b) {\n  color: red;\n}\n\n"
        "REGION\nid:bottom\nwidth:40%\n\nNOTE checked by the office\n\nNOTE\nover two\nlines\n\n"
        "first\n00:01.000 --> 00:03.500 align:start position:10%\nthe sill is\n\n"
        "2\n00:00:03.500 --> 01:00:05.000\ncrushed under the door\n"
    )
    assert (note.format, note.warnings) == ("vtt", [])
    assert note.spoken.text == "the sill is crushed under the door"
    assert times(note) == [("the sill is", 1, 3.5), ("crushed under the door", 3.5, 3605)]
    assert_mapped(note)


def test_webvtt_cue_text_loses_its_tags_and_entities_are_decoded():
    """Chapter "Cue text": class, italics, bold, underline, ruby, language, voice; times; character references."""
    note = read_text(
        "WEBVTT\n\n00:01.000 --> 00:09.000\n"
        "<v.loud Sam>the <c.part>quarter</c> <00:00:02.000><b>pan</b>el &amp; the &lt;5 mm</v>\n"
        "<i.x><u>gap&nbsp;is</u></i> <lang en-GB>ti<ruby>gh<rt>t</rt></ruby></lang>&lrm; now\n"
    )
    assert note.spoken.text == "the quarter panel & the <5 mm gap is tight now"
    at = note.spoken.text.index("&")
    assert note.text[slice(*note.spoken.source_span(at, at + 1))] == "&amp;"
    assert note.segments == [Segment(note.text.index("the <c"), note.text.index(" now") + 4, 1.0, 9.0)]


def test_another_voice_begins_a_word():
    note = read_text("WEBVTT\n\n00:01.000 --> 00:09.000\n<v Sam>is it bent</v><v Jo>no it is straight</v>")
    assert note.spoken.text == "is it bent no it is straight"


def test_a_tag_may_run_over_a_line_end():
    note = read_text("WEBVTT\n\n00:01.000 --> 00:09.000\nthe <v Sam\nand Jo>crossmember\nis fine")
    assert note.spoken.text == "the crossmember is fine"


@pytest.mark.parametrize(
    ("timing", "expected"),
    [
        ("00:01.000 --> 00:02.000", (1, 2)),
        ("00:00:01.000 --> 00:00:02.000", (1, 2)),
        ("123:00:00.000 --> 123:00:00.250", (442800, 442800.25)),  # "WebVTT timestamp": two or more digits of hours
        ("00:01.000\t-->\t00:02.000 line:0", (1, 2)),  # spaces or tabs around the arrow
        ("00:01.000-->00:02.000", (1, 2)),  # the parser skips white space, it does not ask for it
    ],
)
def test_webvtt_times(timing, expected):
    """Chapters "Timestamps" and "Parsing: cue timings and settings"."""
    note = read_text(f"WEBVTT\n\n{timing}\ncracked\n")
    assert [(segment.t_start, segment.t_end) for segment in note.segments] == [expected]
    assert note.warnings == []


@pytest.mark.parametrize("timing", ["00:01,000 --> 00:02,000", "00:01.00 --> 00:02.00", "0:01 --> 0:02"])
def test_miswritten_webvtt_times_are_read_with_a_warning(timing):
    note = read_text(f"WEBVTT\n\n{timing}\ncracked\n")
    assert [(segment.t_start, segment.t_end) for segment in note.segments] == [(1, 2)]
    assert note.warnings[0].startswith("line 3")


@pytest.mark.parametrize(
    "timing", ["00:61.000 --> 00:62.000", "00:60:01.000 --> 00:60:02.000", "0a:01.000 --> 00:02.000"]
)
def test_wrong_webvtt_times_leave_the_words_without_one(timing):
    """Chapter "Timestamps": minutes and seconds run from 0 to 59."""
    note = read_text(f"WEBVTT\n\n{timing}\ncracked\n\n00:03.000 --> 00:04.000\nhub\n")
    assert note.spoken.text == "cracked hub"
    assert times(note) == [("hub", 3, 4)]
    assert note.warnings[0].startswith("line 3")


def test_webvtt_without_empty_lines_between_cues():
    """Chapter "Parsing": a line with an arrow ends a cue."""
    note = read_text("WEBVTT\n00:01.000 --> 00:02.000\nrear door\n7\n00:02.000 --> 00:03.000\nwon't shut")
    assert note.spoken.text == "rear door won't shut"
    assert [segment.t_start for segment in note.segments] == [1, 2]
    assert note.warnings[0].startswith("line 4")


def test_words_of_webvtt_that_belong_to_no_cue_are_not_lost():
    note = read_text("WEBVTT\n\n00:01.000 --> 00:02.000\nlamp is smashed\n\nand the bracket too\n")
    assert note.spoken.text == "lamp is smashed and the bracket too"
    assert note.warnings == ["line 6: words that belong to no cue; they are kept without a time"]


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_webvtt_line_ends(line_end):
    """Chapter "File structure": LF, CR and CRLF end a line; the signature may follow a byte order mark."""
    text = "WEBVTT\n\nNOTE x\n\n00:01.000 --> 00:02.000\nrear door\nwon't shut\n".replace("\n", line_end)
    note = read_bytes(text.encode("utf-8-sig"), "x")
    assert (note.format, note.text, note.spoken.text) == ("vtt", text, "rear door won't shut")
    assert_mapped(note)


@pytest.mark.parametrize("text", ["WEBVTTS are odd words", "the WEBVTT file", "webvtt is what he said"])
def test_webvtt_needs_its_signature(text):
    """Chapter "File structure": WEBVTT in capitals, then a space, a tab or a line end."""
    assert read_text(text).format == "text"


# --- JSON ------------------------------------------------------------------------------------------

ROWS = [
    {"id": 0, "start": 0.0, "end": 2.5, "text": " the steering"},
    {
        "id": 1,
        "start": 2.5,
        "end": 6,
        "text": ' column\'s "collapsed", 3 \u00b5m \U0001f527',
        "tokens": [1, {"text": "no"}],
    },
]


@pytest.mark.parametrize("shape", ["list", "segments"])
@pytest.mark.parametrize("ascii_only", [True, False])
@pytest.mark.parametrize("indent", [None, 2])
def test_json_of_recognisers(shape, ascii_only, indent):
    content = (
        ROWS if shape == "list" else {"text": "whole", "language": "en", "segments": ROWS, "more": {"segments": 1}}
    )
    text = json.dumps(content, ensure_ascii=ascii_only, indent=indent)
    note = read_text(text)
    assert (note.format, note.text, note.warnings) == ("json", text, [])
    assert note.spoken.text == 'the steering column\'s "collapsed", 3 \u00b5m \U0001f527'
    assert [(segment.t_start, segment.t_end) for segment in note.segments] == [(0, 2.5), (2.5, 6)]
    assert_segments(note)
    for position, char in enumerate(note.spoken.text):
        raw = note.text[slice(*note.spoken.source_span(position, position + 1))]
        assert char == " " or json.loads(f'"{raw}"') == char


def test_json_escapes_of_halves_and_controls():
    note = read_text(r'[{"start": 1, "end": 2, "text": "a \ud83d b\u0000c\nd \/ e"}]')
    assert note.spoken.text == "a \ufffd bc d / e"


def test_json_object_with_text_and_no_segments():
    note = read_text('{"text": "first line\\nsecond line", "duration": 3.5}')
    assert (note.spoken.text, note.segments) == ("first line\nsecond line", [])


def test_json_rows_without_text_or_times():
    note = read_text(
        '[{"start": 0, "end": 1}, {"start": null, "text": "grille"}, {"start": "1.5", "end": 1, "text": "gone"}]'
    )
    assert note.spoken.text == "grille gone"
    assert times(note) == [("gone", 1.5, None)]
    assert "without text" in note.warnings[0] and "no start" in note.warnings[1]


def test_the_last_of_equal_json_keys_counts():
    """RFC 8259, 4: what equal names mean is left open; Python's json takes the last, and so do we."""
    note = read_text('[{"text": "no", "start": 0, "te\\u0078t": "yes"}]')
    assert note.spoken.text == json.loads(note.text)[0]["text"]


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ('[{"start": 1,\n "end" 2}]', "line 2, column 8"),
        ('{"segments": [{"text": "hub"}', "line 1, column 30"),
        ("{'text': 'hub'}", "line 1, column 2"),
        ('\ufeff\r\n[\r\n{"text": "a\tb"}]', "line 3, column 12"),
    ],
)
def test_broken_json_says_where(text, where):
    with pytest.raises(InputError, match=where):
        read_text(text, "job.json")


@pytest.mark.parametrize(
    "text", ["{}", "[]", "[1, 2]", '{"segments": []}', '[{"text": " "}]', '["hub"]', '[{"text": 5}]']
)
def test_json_without_text(text):
    with pytest.raises(InputError, match="JSON without text"):
        read_text(text)


@pytest.mark.parametrize("text", ["[" * 100_000, '{"a":' * 100_000, '{"text": ' + "9" * 5000 + "}"])
def test_hostile_json(text):
    with pytest.raises(InputError):
        read_text(text)


@pytest.mark.parametrize("text", ["[see sheet] hub cracked", "{ hub } cracked", "[12] hub cracked", '"hub" he said'])
def test_brackets_alone_are_no_json(text):
    assert read_text(text).format == "text"


# --- encodings and files ---------------------------------------------------------------------------

ACCENTS = "Caf\u00e9 van: 3\u00bd\u00b0 of camber, \u2018knackered\u2019 \u2013 \u00a385\r\nnext job\r\n"


@pytest.mark.parametrize(
    ("codec", "named"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8-sig"),
        ("utf-16", "utf-16"),
        ("utf-16-le", "utf-16-le"),
        ("utf-16-be", "utf-16-be"),
        ("utf-32", "utf-32"),
        ("windows-1252", "windows-1252"),
    ],
)
def test_encodings(codec, named):
    data = ACCENTS.encode(codec)
    note = read_bytes(data, "bay")
    assert (note.text, note.encoding, note.warnings) == (ACCENTS, named, [])
    assert data.decode(note.encoding) == note.text
    assert note.sha256 == hashlib.sha256(data).hexdigest()


def test_utf16_big_endian_with_a_mark():
    note = read_bytes(b"\xfe\xff" + ACCENTS.encode("utf-16-be"), "bay")
    assert (note.text, note.encoding) == (ACCENTS, "utf-16")


def test_utf8_with_a_torn_character():
    note = read_bytes("ligne 1\n\u00e9\u00e8\u00ea\u00e0 \u20ac".encode()[:-1], "bay")
    assert note.encoding == "utf-8" and note.text.startswith("ligne 1\n\u00e9\u00e8\u00ea\u00e0 ")
    assert note.warnings[0].startswith("line 2")


def test_bytes_of_another_encoding_are_refused():
    with pytest.raises(InputError, match="0x81 in line 2"):
        read_bytes(b"hub\nb\x81sh", "bay.txt")


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "empty"),
        (b" \r\n\t\n", "white space"),
        (b"\xef\xbb\xbf", "white space"),
        (b"\xef\xbb\xbf \n", "white space"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "PNG image"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "JPEG image"),
        (b"RIFF\x24\x08\x00\x00WAVEfmt ", "sound recording"),
        (b"\x00\x00\x00\x20ftypM4A ", "recording"),
        (b"%PDF-1.7\n", "PDF"),
        (b"PK\x03\x04\x14\x00", "ZIP"),
        (b"hub\x00cracked and bent", "control character"),
        (b"one\ntwo\x07", "0x07.* in line 2"),
        (b"[0:42]", "no words"),
        (b"WEBVTT\n\nNOTE nothing\n", "no words"),
        (b"x" * (MAX_BYTES + 1), "5 MB"),
    ],
)
def test_refused_bytes(data, what):
    with pytest.raises(InputError, match=what) as caught:
        read_bytes(data, "photo.txt")
    message = str(caught.value)
    assert message.startswith("photo.txt ") and ": " in message and "\n" not in message


def test_a_note_of_the_largest_size_is_read():
    assert len(read_bytes(b"x" * MAX_BYTES, "big").text) == MAX_BYTES


@pytest.mark.parametrize("text", ["", " \n", "hub\x00", "hub \ud800", "\ufeff", "\u20ac" * (MAX_BYTES // 3 + 1)])
def test_refused_text(text):
    with pytest.raises(InputError, match="^the text "):
        read_text(text)


def test_files(tmp_path, monkeypatch):
    path = tmp_path / "photo.png"  # the name does not decide
    path.write_bytes(SRT.encode())
    note = read_file(str(path))
    assert (note.format, note.source, note.text) == ("srt", str(path), SRT)
    with pytest.raises(InputError, match="does not exist"):
        read_file(str(tmp_path / "none.txt"))
    with pytest.raises(InputError, match="is a folder"):
        read_file(str(tmp_path))
    with pytest.raises(InputError, match="cannot be read"):
        read_file("n" * 5000)
    with pytest.raises(InputError, match="cannot be read"):
        read_file("a\0b")
    with pytest.raises(InputError, match="cannot be read"):
        read_file(str(path / "inside.txt"))

    def refuse(*_args, **_kwargs):
        raise PermissionError

    monkeypatch.setattr("pathlib.Path.open", refuse)
    with pytest.raises(InputError, match="may not be read"):
        read_file(str(path))


def test_standard_input(monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(ACCENTS.encode("utf-16"))))
    note = read_file("-")
    assert (note.text, note.source) == (ACCENTS, "-")
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"")))
    with pytest.raises(InputError, match="^standard input is empty"):
        read_file("-")


# --- properties ------------------------------------------------------------------------------------

PIECES = st.sampled_from(
    ["[0:42]", "(2:10)", "0:07 ", "00:01:15 ", "\n", "\r\n", "\r", "\n\n", " ", "\t", "hub", "arm ", "12",
     "<i>", "</i>", "<", "&amp;", "{\\an8}", "00:00:01,000 --> 00:00:02,000", "00:01.000 --> 00:02.000", "-->",
     "1\n", "WEBVTT\n\n", "NOTE ", '{"text": "', '"}', "[{", "]", "\\u0041", "\ufeff", "\u00e9", "\U0001f527",
     "\u2028", "\x1a"]
)  # fmt: skip


@given(st.one_of(st.text(), st.lists(PIECES, max_size=25).map("".join)))
def test_any_text_is_read_or_refused(text):
    try:
        note = read_text(text)
    except InputError as error:
        assert str(error)
        return
    assert note.text == text
    assert len(note.spoken.text) == len(note.spoken.starts) == len(note.spoken.ends)
    assert all(start < end for start, end in zip(note.spoken.starts, note.spoken.ends))
    if note.format in ("text", "stamped", "srt"):
        assert_mapped(note)
    else:
        assert_segments(note)


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(data):
    try:
        note = read_bytes(data, "x")
    except InputError:
        return
    assert note.warnings or data.decode(note.encoding) == note.text


WORDS = st.text(st.sampled_from("abc \u00e9'-"), min_size=1, max_size=12).filter(lambda words: words.strip())


@given(st.lists(WORDS, min_size=1, max_size=6), st.sampled_from(["\n", "\r\n", "\r"]))
def test_what_was_said_is_the_same_in_every_format(lines, line_end):
    said = " ".join(words.strip() for words in lines)
    stamped = line_end.join(f"[0:{number:02}] {words}" for number, words in enumerate(lines))
    srt = "".join(
        f"{number}\n00:00:0{number},000 --> 00:00:0{number},900\n{words}\n\n" for number, words in enumerate(lines)
    )
    vtt = "WEBVTT\n\n" + "".join(
        f"00:0{number}.000 --> 00:0{number}.900\n{words}\n\n" for number, words in enumerate(lines)
    )
    rows = json.dumps([{"start": number, "end": number + 0.9, "text": words} for number, words in enumerate(lines)])
    for text, form in ((stamped, "stamped"), (srt, "srt"), (vtt, "vtt"), (rows, "json")):
        note = read_text(text.replace("\n", line_end))
        assert (note.format, note.spoken.text) == (form, said)
        assert [segment.t_start for segment in note.segments] == list(range(len(lines)))


@pytest.mark.parametrize(
    "text",
    [
        "the lower arm is bent and the hub is fine.\n" * 20_000,
        "".join(f"[{n // 60}:{n % 60:02}] the lower arm is bent\n" for n in range(25_000)),
        "".join(f"{n}\n00:{n // 60 % 60:02}:{n % 60:02},000 --> 00:59:59,000\nlower arm\n\n" for n in range(15_000)),
        "WEBVTT\n\n00:01.000 --> 00:02.000\n" + "<b" * 400_000,
        "WEBVTT\n\n00:01.000 --> 00:02.000\n" + "\n \n" * 200_000 + "hub",
        json.dumps([{"text": 'lower "arm"'}] * 25_000),
        "[0:42] " + "(" * 800_000,
    ],
    ids=["plain", "stamped", "srt", "open tags", "blank lines", "json", "open brackets"],
)
def test_time_grows_no_faster_than_the_text(text):
    """Some 0.8 million characters each; anything quadratic would take minutes."""
    begin = time.process_time()  # other work on the machine does not count
    read_text(text)
    assert time.process_time() - begin < 5
