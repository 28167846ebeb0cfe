"""What goes to the estimator: CSV, XLSX, JSON and HTML, read back by other programs, with one number for one fact."""

import csv
import html.parser
import io
import json
import re
import shutil
import subprocess
from decimal import Decimal

import jsonschema
import openpyxl
import pandas
import pytest
from handmade import finding, full_log, log, named, note
from hypothesis import given, settings
from hypothesis import strategies as st

from notelog.archive import Archive, Vehicle
from notelog.archive.ledgers import job_notes
from notelog.cli import main
from notelog.estimate import estimate
from notelog.job import ledger
from notelog.out import as_html, as_xlsx, tables
from notelog.out.as_csv import table_csv
from notelog.out.tables import NAMES, Column, SheetTable
from notelog.paths import data_folder

PRICES = "kind,item,axle,work,price,hours,currency,note\npart,hub,,,61.25,,GBP,\nlabour,hub,,replace,,1.75,,\nlabour,lower arm,,replace,,0.9,,\n"
RATES = '[[labour]]\nname = "all"\nrate = 47.30\ncurrency = "GBP"\n[[tax]]\nname = "levy"\npercent = 17.5\ncurrency = "GBP"\n'
EVIL = '=HYPERLINK("x"),<script>alert(1)</script> & "hub" is\r\ncracked'


@pytest.fixture(autouse=True)
def places(tmp_path, monkeypatch):
    monkeypatch.setenv("NOTELOG_ARCHIVE", str(tmp_path / "jobs.sqlite"))
    monkeypatch.setenv("NOTELOG_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("COLUMNS", "120")


@pytest.fixture
def run(capfdbinary):
    def run(*arguments, code=0):
        capfdbinary.readouterr()
        assert main([str(one) for one in arguments]) == code
        return capfdbinary.readouterr()

    return run


@pytest.fixture
def filled(tmp_path):
    """A job of two notes, the second one full of what files must not take for their own."""
    second = note(EVIL, source="+2.txt")
    entries = [
        finding(second, "hub", "cracked", EVIL),
        {"kind": "part", "component": named("hub"), "state": "needed", "count": 3, "evidence":
         {"start": 0, "end": 5, "text": EVIL[:5]}},
    ]  # fmt: skip
    with Archive(tmp_path / "jobs.sqlite", create=True) as archive:
        archive.add("1042", [(note(), full_log())], vehicle=Vehicle.given(year=2016), author="@Kim", dictated="2025-03-31")
        archive.add("1042", [(second, log(second, entries))], author="Sam", dictated="2025-04-01")
    (tmp_path / "prices.csv").write_text(PRICES, encoding="utf-8")
    (tmp_path / "rates.toml").write_text(RATES, encoding="utf-8")
    return "--prices", tmp_path / "prices.csv", "--rates", tmp_path / "rates.toml"


@pytest.fixture
def exported(run, filled, tmp_path):
    """The job in all four forms; the CSV by table."""
    made = {}
    for form in ("json", "xlsx", "html"):
        run("export", "1042", "--to", form, "--out", tmp_path / f"job.{form}", *filled)
        made[form] = tmp_path / f"job.{form}"
    for name in NAMES:
        made[name] = tmp_path / f"{name}.csv"
        run("export", "1042", "--to", "csv", "--table", name, "--out", made[name], *filled)
    return made


def read(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


class Page(html.parser.HTMLParser):
    """The tags, the cells by row, and the text of a page, as a reader sees them."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.rows, self.text = [], [], ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_data(self, data):
        self.text += data
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data


def page(path):
    return Page(path.read_text(encoding="utf-8"))


# --- one fact, one number --------------------------------------------------------------------------


def test_one_fact_has_one_number_in_all_four(exported):
    whole = json.loads(exported["json"].read_text(encoding="utf-8"))
    lines = whole["estimate"]["lines"]
    rows = read(exported["lines"])
    sheet = openpyxl.load_workbook(exported["xlsx"])["lines"]
    heads = [cell.value for cell in sheet[1]]
    seen = page(exported["html"])
    assert len(lines) == len(rows) == sheet.max_row - 1 > 3
    assert sum(line["amount"] is not None for line in lines) >= 3
    for line, row, cells in zip(lines, rows, sheet.iter_rows(min_row=2, values_only=True), strict=True):
        cell = dict(zip(heads, cells, strict=True))
        assert (line["kind"], line["id"]) == (row["kind"], row["id"]) == (cell["Kind"], cell["Id"])
        numbers = {
            "amount": line["amount"],
            "amount_low": line["amount_low"],
            "amount_high": line["amount_high"],
            "unit_price": line["unit_price"] and line["unit_price"]["value"],
            "hours": line["hours"] and line["hours"]["value"],
            "rate": line["rate"] and line["rate"]["value"],
        }
        for name, number in numbers.items():
            assert row[name] == (number or "")
            in_sheet = cell[name.replace("_", " ").capitalize()]
            assert in_sheet == (float(number) if number else None)
            assert number is None or Decimal(repr(in_sheet)) == Decimal(number)
        if line["amount"]:
            assert any(line["text"] in cells[0] and f"{line['amount']} {line['currency']}" in cells[3]
                       for cells in seen.rows if len(cells) == 5)  # fmt: skip
    [total] = whole["estimate"]["totals"]
    [gross] = [row for row in read(exported["totals"]) if row["what"] == "total"]
    assert Decimal(total["net"]) == sum(Decimal(line["amount"]) for line in lines if line["amount"])
    assert (gross["amount"], gross["currency"]) == (total["gross"], total["currency"])
    in_sheet = {row[1]: row[3] for row in openpyxl.load_workbook(exported["xlsx"])["totals"].iter_rows(min_row=2, values_only=True)}
    assert Decimal(repr(in_sheet["total"])) == Decimal(total["gross"])
    assert any(cells[:1] == [f"total ({total['currency']})"] and cells[2] == total["gross"] for cells in seen.rows)
    assert f"{whole['estimate']['to_be_asked']} of {len(lines)} lines are to be asked" in seen.text
    assert whole["estimate"]["to_be_asked"] == sum(not row["amount"] for row in rows)


def test_csv_is_the_estimate_when_there_are_prices_or_rates(run, filled, exported):
    for options in (filled, filled[:2], filled[2:]):
        lines = list(csv.DictReader(io.StringIO(run("export", "1042", "--to", "csv", *options).out.decode())))
        assert [line["id"] for line in lines] == [line["id"] for line in read(exported["lines"])]
    assert run("export", "1042", "--to", "csv").out == exported["evidence"].read_bytes()


@pytest.mark.parametrize("name", NAMES)
def test_a_sheet_and_a_csv_of_one_table_hold_the_same(exported, name):
    rows = list(csv.reader(io.StringIO(exported[name].read_bytes().decode(), newline=""), strict=True))
    sheet = openpyxl.load_workbook(exported["xlsx"])[name]
    assert (sheet.max_row, sheet.max_column) == (len(rows), len(rows[0]))
    assert [cell.value for cell in sheet[1]] == [head.replace("_", " ").capitalize() for head in rows[0]]
    for row, cells in zip(rows[1:], sheet.iter_rows(min_row=2), strict=True):
        for said, cell in zip(row, cells, strict=True):
            if isinstance(cell.value, (int, float)):
                assert Decimal(said) == Decimal(repr(cell.value))
            else:
                # CSV keeps line ends and marks what a spreadsheet would take for a formula
                assert " ".join(said.removeprefix("'").split()) == " ".join((cell.value or "").split())


def test_damage_parts_and_readings_are_those_of_the_ledger(exported):
    made = json.loads(exported["json"].read_text(encoding="utf-8"))["job"]["ledger"]
    assert [row["id"] for row in read(exported["damage"])] == [
        line["id"] for line in made["damage"] for _ in line["conditions"]
    ]
    parts = {row["id"]: row for row in read(exported["parts"])}
    assert {line["id"]: str(line["count"]) for line in made["parts_to_buy"]} == {
        line["id"]: parts[line["id"]]["count"] for line in made["parts_to_buy"]
    }
    [reading] = read(exported["readings"])
    assert (reading["low"], reading["quantity"], reading["unit"]) == ("-1.5", "camber", "deg")
    assert "-1.5" in [cell for row in page(exported["html"]).rows for cell in row]


# --- CSV -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_csv_read_back_by_pandas(exported, name):
    # pandas has a CSV reader of its own
    frame = pandas.read_csv(exported[name], dtype=str, keep_default_na=False)
    assert frame.to_dict("records") == read(exported[name])
    data = exported[name].read_bytes()
    assert data.endswith(b"\r\n")
    assert len(frame)


def test_csv_holds_no_formula(exported):
    for name in NAMES:
        for row in read(exported[name]):
            for column, cell in row.items():
                if not re.fullmatch(r"-?\d+(\.\d+)?", cell):
                    assert not cell.lstrip().startswith(("=", "+", "-", "@")), (name, column)
    assert any(row["quote"].startswith("'=HYPERLINK") for row in read(exported["evidence"]))


cells = st.one_of(
    st.none(),
    st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=30),
    st.sampled_from(["=1+1", "+1", "-1", "@x", "\t=1", ' "quoted", with comma', "a\r\nb", "'", ""]),
)


@settings(deadline=None)
@given(st.lists(st.tuples(cells, st.one_of(st.none(), st.decimals(-1000, 1000, places=2))), max_size=8))
def test_any_table_is_read_back_from_csv(rows):
    table = SheetTable("t", (Column("a"), Column("b", "money")), rows)
    text = table_csv(table)
    read_back = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert read_back[0] == ["a", "b"]
    for (said, number), (cell, figure) in zip(rows, read_back[1:], strict=True):
        assert cell in (said or "", "'" + (said or ""))
        assert not cell.lstrip().startswith(("=", "+", "-", "@"))
        assert figure == ("" if number is None else format(number, "f"))


# --- XLSX ------------------------------------------------------------------------------------------


def test_the_workbook_opens_in_a_second_library(exported):
    book = openpyxl.load_workbook(exported["xlsx"])
    assert book.sheetnames == list(NAMES)
    for sheet in book:
        assert sheet.freeze_panes == "A2"
        assert all(cell.font.bold for cell in sheet[1])
        assert {cell.data_type for row in sheet.iter_rows() for cell in row} <= {"s", "n"}
        assert all(sheet.column_dimensions[cell.column_letter].width >= 8 for cell in sheet[1])
    lines = book["lines"]
    heads = {cell.value: cell.column for cell in lines[1]}
    amounts = [lines.cell(row, heads["Amount"]) for row in range(2, lines.max_row + 1)]
    assert {cell.number_format for cell in amounts if cell.value is not None} == {"#,##0.00"}
    assert any("=HYPERLINK" in str(cell.value) for row in book["evidence"].iter_rows() for cell in row)


def test_a_text_longer_than_a_cell_is_cut():
    table = SheetTable("t", (Column("a"),), [("x" * 40_000,)])
    book = openpyxl.load_workbook(io.BytesIO(as_xlsx.workbook({"t": table}, "t")))
    assert len(book["t"]["A2"].value) == as_xlsx.MOST_IN_A_CELL


OFFICE = shutil.which("soffice") or shutil.which("libreoffice")


@pytest.mark.skipif(OFFICE is None, reason="LibreOffice is not installed")
def test_the_workbook_opens_in_libreoffice(exported, tmp_path):
    filter_ = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
    subprocess.run(
        [OFFICE, f"-env:UserInstallation=file://{tmp_path}/profile", "--headless", "--convert-to", filter_,
         "--outdir", tmp_path / "office", exported["xlsx"]],
        check=True, capture_output=True, timeout=300,
    )  # fmt: skip
    for name in ("lines", "totals", "parts"):
        (file,) = (tmp_path / "office").glob(f"*-{name}.csv")
        ours, theirs = read(exported[name]), read(file)
        assert len(ours) == len(theirs)
        for our, their in zip(ours, theirs, strict=True):
            for column in ("count",) if name == "parts" else ("amount", "amount_low", "amount_high"):
                shown, said = their[column.replace("_", " ").capitalize()], our[column]
                assert bool(shown) == bool(said)
                assert not said or Decimal(shown) == Decimal(said)


# --- JSON ------------------------------------------------------------------------------------------


def test_json_holds_to_the_published_schema(run, exported):
    # the reference is an independent validator of JSON Schema
    schema = json.loads(run("schema", "--of", "job").out)
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    whole = json.loads(exported["json"].read_text(encoding="utf-8"))
    validator.validate(whole)
    assert whole["schema"] == "notelog.job/1"
    assert whole["job"]["ledger"]["schema"] == "notelog.ledger/1"
    assert whole["estimate"]["schema"] == "notelog.estimate/1"
    for spoil in (
        lambda made: made.update(schema="notelog.job/2"),
        lambda made: made["estimate"]["lines"][0].update(amount=1.5),
        lambda made: made["estimate"]["lines"][0].update(kind="gift"),
        lambda made: made["job"]["notes"][0]["entries"][0].update(condition="wobbly"),
        lambda made: made["job"].pop("ledger"),
    ):
        spoiled = json.loads(json.dumps(whole))
        spoil(spoiled)
        with pytest.raises(jsonschema.ValidationError):
            validator.validate(spoiled)


def test_json_of_a_corrected_job_holds_to_the_schema(run, filled, tmp_path):
    run("correct", "1", "condition=cracked", "--by", "Kim")
    run("correct", "--add", "labour", "hours=2", "--job", "1042", "--by", "Kim")
    run("export", "1042", "--to", "json", "--out", tmp_path / "job.json", *filled)
    schema = json.loads(run("schema", "--of", "job").out)
    jsonschema.Draft202012Validator(schema).validate(json.loads((tmp_path / "job.json").read_text(encoding="utf-8")))


def test_job_prints_its_ledger_as_json(run, filled):
    made = json.loads(run("job", "1042", "--json").out)
    assert made["ledger"]["schema"] == "notelog.ledger/1"
    assert [line["state"] for line in made["ledger"]["parts_to_buy"]] == ["needed", "needed"]


# --- HTML ------------------------------------------------------------------------------------------


def test_html_escapes_everything_and_fetches_nothing(exported):
    text = exported["html"].read_text(encoding="utf-8")
    seen = page(exported["html"])
    assert "<script>alert(1)</script>" in seen.text
    tags = {tag for tag, _ in seen.tags}
    assert not tags & {"script", "img", "link", "iframe", "object", "a", "form"}
    assert not any(name.startswith("on") or name in ("src", "href") for _, attrs in seen.tags for name in attrs)
    assert not re.search(r"https?:|url\(|@import", text)
    assert "default-src 'none'" in text
    assert "@page" in text
    # every quote is there, as it was said
    flat = " ".join(seen.text.split())
    for row in read(exported["evidence"]):
        assert " ".join(row["quote"].removeprefix("'").split()) in flat


@settings(max_examples=40, deadline=None)
@given(st.text(min_size=1, max_size=60).filter(str.strip))
def test_html_shows_any_text_as_text(words):
    words = words.encode("utf-8", "ignore").decode() or "x"
    from notelog.archive.store import Job, StoredNote

    entry = {"id": 1, "revision": 1, "decided": None, "kind": "finding", "condition": "bent", "status": "present",
             "component": {"id": "unknown", "label": words, "said": words}, "position": {}, "confidence": 1.0,
             "evidence": {"start": 0, "end": 1, "text": words}}  # fmt: skip
    stored = StoredNote(1, words, "0", "text", "utf-8", "right", words, None, "2025-01-01", words, [], [entry])
    job = Job(words, Vehicle(), "2025-01-01", [stored])
    notes = job_notes(job)
    made, estimated = ledger(notes), estimate(notes)
    text = as_html.page(job, made, estimated, tables.export_tables(job, made, estimated), shop=words)
    plain = Page(as_html.page(Job("x", Vehicle(), "2025-01-01", []), ledger([]), estimate([]),
                 tables.export_tables(Job("x", Vehicle(), "2025-01-01", []), ledger([]), estimate([]))))  # fmt: skip
    known = {tag for tag, _ in plain.tags} | {"table", "colgroup", "col", "thead", "tbody", "tr", "th", "td", "div", "span",
                                              "ul", "li", "b"}  # fmt: skip
    assert {tag for tag, _ in Page(text).tags} <= known


CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.mark.skipif(CHROMIUM is None or shutil.which("pdfinfo") is None, reason="Chromium or pdfinfo is not installed")
@pytest.mark.parametrize(("paper", "size"), [("A4", "594.96 x 841.92"), ("Letter", "612 x 792")])
def test_html_prints_on_both_papers(exported, tmp_path, paper, size):
    text = exported["html"].read_text(encoding="utf-8").replace("@page {", f"@page {{ size: {paper};", 1)
    (tmp_path / "print.html").write_text(text, encoding="utf-8")
    subprocess.run(
        [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path}/profile",
         "--no-pdf-header-footer", f"--print-to-pdf={tmp_path}/print.pdf", f"file://{tmp_path}/print.html"],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    about = subprocess.run(["pdfinfo", tmp_path / "print.pdf"], check=True, capture_output=True, text=True).stdout
    assert size in about
    said = subprocess.run(["pdftotext", "-layout", tmp_path / "print.pdf", "-"], check=True, capture_output=True, text=True)
    assert "Job 1042" in said.stdout
    assert "183.75 GBP" in said.stdout  # three hubs at 61.25


# --- the printed ledger ----------------------------------------------------------------------------


@pytest.fixture
def demo(run):
    """The demo's job of three notes by two people."""
    folder = data_folder("demo_notes")
    with open(folder / "jobs.csv", encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["job"] == "BQ-3071"]
    assert (len(rows), len({row["author"] for row in rows})) == (3, 2)
    for row in rows:
        run("add", folder / row["file"], "--job", row["job"], "--author", row["author"], "--dictated", row["dictated"])
    return run


def test_the_demo_job_prints_its_ledger(demo):
    out = demo("job", "BQ-3071").out.decode()
    for heading in ("Damage", "Seen and sound", "Parts to buy", "Damaged, nothing ordered", "Used once: proposals",
                    "Loose ends", "Removed", "Fasteners", "Readings", "Readings compared", "Work", "Hours", "Follow-ups",
                    "Cautions", "Open questions"):  # fmt: skip
        assert f"\n{heading}\n" in out, heading
    flat = " ".join(out.split())
    assert re.search(r"“[^”]+” \(note 1\)", flat)
    assert "contradiction: good" in flat
    assert "still to come" not in flat


@pytest.mark.parametrize("width", [60, 80, 132])
def test_the_ledger_fits_the_terminal(demo, monkeypatch, width):
    monkeypatch.setenv("COLUMNS", str(width))
    assert max(len(line) for line in demo("job", "BQ-3071").out.decode().splitlines()) <= width


def test_the_demo_job_is_estimated_with_the_demo_files(demo):
    folder = data_folder("demo_notes")
    files = ("--prices", folder / "prices.csv", "--rates", folder / "rates.toml")
    made = json.loads(demo("estimate", "BQ-3071", *files, "--json").out)
    origins = {
        number["origin"]["kind"]
        for line in made["lines"]
        for number in (line["unit_price"], line["hours"], line["rate"])
        if number
    }
    assert origins == {"quote", "price_file", "rates_file"}
    [total] = made["totals"]
    assert Decimal(total["net"]) == sum(Decimal(line["amount"]) for line in made["lines"] if line["amount"])
    # the note says "£184 the pr" of two struts
    [struts] = [line for line in made["lines"] if (line["kind"], line["text"]) == ("part", "front strut, left and right")]
    assert (struts["count"], struts["unit_price"]["value"], struts["amount"]) == (2, "92.00", "184.00")


def test_an_answered_question_is_not_asked_again(demo):
    first = json.loads(demo("job", "BQ-3071", "--json").out)["ledger"]["questions"]
    demo("correct", "--job", "BQ-3071", "--answer", first[0]["id"], (first[0]["options"] or ["yes"])[0], "--by", "Kim")
    now = json.loads(demo("job", "BQ-3071", "--json").out)["ledger"]["questions"]
    assert first[0]["id"] not in {question["id"] for question in now}
    assert len(now) < len(first)


def test_limits_are_shown_beside_the_readings(demo, tmp_path):
    limits = tmp_path / "limits.toml"
    limits.write_text('[[limit]]\nquantity = "camber"\nlow = -2.0\nunit = "deg"\nwhy = "our own"\n', encoding="utf-8")
    checked = json.loads(demo("job", "BQ-3071", "--json", "--limits", limits).out)["ledger"]["readings"]
    assert {check["within"] for reading in checked for check in reading["limits"]} == {"yes", "no"}


def test_a_workbook_to_a_pipe_is_the_file(run, filled):
    data = run("export", "1042", "--to", "xlsx", *filled).out
    assert openpyxl.load_workbook(io.BytesIO(data)).sheetnames == list(NAMES)
