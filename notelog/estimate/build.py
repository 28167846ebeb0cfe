"""The estimate, put together: each line gets its numbers, and the lines their sums."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import Decimal

from notelog.estimate import money
from notelog.estimate.lines import ASK, Wanted, wanted_lines
from notelog.estimate.past import PastJob, median
from notelog.estimate.prices import PriceFile, PriceRow
from notelog.estimate.rates import Rates, Tax
from notelog.estimate.rules import EstimateRules, estimate_rules
from notelog.estimate.said import Price, decimal_of, hours_said, prices_said
from notelog.estimate.sections import (
    CurrencyTotal,
    Estimate,
    EstimateLine,
    KindTotal,
    Number,
    Origin,
    SaidPrice,
    TaxTotal,
)
from notelog.job.build import ledger
from notelog.job.notes import JobNote
from notelog.job.sections import HoursLine, Ledger, Quote
from notelog.job.story import Statement, Story
from notelog.lexicon.load import Lexicon, load
from notelog.models import Position

_KINDS = ("part", "labour", "material", "outside")


def estimate(
    notes: Iterable[JobNote],
    prices: PriceFile | None = None,
    rates: Rates | None = None,
    past: Iterable[PastJob] = (),
    *,
    texts: Mapping[str, str] | None = None,
    made: Ledger | None = None,
    lexicon: Lexicon | None = None,
    rules: EstimateRules | None = None,
) -> Estimate:
    """The estimate of a job: a pure function of its notes, the price file, the rates file and the past jobs.

    A number is taken from the job's own notes, else from the price file, else it is the median of past jobs; without
    any of them it is to be asked. Prices are taken as without tax. `texts` are the notes' texts by note id: from them it
    is seen what a price was said for ("each", "for the pair"); `made` is the job's ledger when it is there already; `rules`
    are the shop's (`read_rules`), else those that ship.
    Raises InputError when two notes or entries have one id, or a rule file of the lexicon cannot be used.

    >>> import notelog
    >>> text = "Nearside front lower arm is bent. Lower arm ordered, 85 quid."
    >>> note = JobNote.of_log(1, notelog.extract(text))
    >>> found = estimate([note], texts={"1": text})
    >>> [(line.kind, line.text, str(line.amount)) for line in found.lines if line.kind == "part"]
    [('part', 'left front lower arm', '85.00')]
    >>> found.to_be_asked, [(total.currency, str(total.gross)) for total in found.totals]
    (2, [('GBP', '85.00')])
    """
    notes = list(notes)
    lexicon = lexicon or load()
    story = Story(notes, lexicon)
    return _Maker(
        story, made or ledger(notes, lexicon), prices or PriceFile(), rates or Rates(), past, texts or {},
        rules or estimate_rules(lexicon),
    ).made()  # fmt: skip


class _Maker:
    def __init__(
        self, story: Story, made: Ledger, prices: PriceFile, rates: Rates, past: Iterable[PastJob], texts: Mapping[str, str],
        rules: EstimateRules,
    ):  # fmt: skip
        self.story, self.ledger, self.prices, self.rates, self.past = story, made, prices, rates, list(past)
        self.lexicon = story.things.lexicon
        self.known_currencies = money.currencies(self.lexicon)
        self.wanted = wanted_lines(story, made, rules, count_used_once=rates.used_once == "count")
        self.said, self.homeless = prices_said(story, made.parts_to_buy, texts, rules)
        self.times, self.idle = hours_said(story, texts, rules)
        self.warnings = [*made.warnings, *prices.warnings]

    def made(self) -> Estimate:
        self._outside_prices()
        if self.rates.hours == "said":
            lines = [self._line(one) for one in self.wanted if one.kind != "labour"]
            lines += [self._said_time(told) for told in self.story.of_kind("labour")]
            lines.sort(key=lambda line: _KINDS.index(line.kind))
            self.idle = []
        else:
            lines = [self._line(one) for one in self.wanted]
            used = {line.hours.origin.quote.entry for line in lines if line.hours and line.hours.origin.quote}
            self.idle = [told for told in self.story.of_kind("labour") if told.id not in used]
        return Estimate(
            lines=lines,
            to_be_asked=sum(line.amount is None for line in lines),
            totals=self._totals(lines),
            proposals=self.ledger.used_once,
            hours_said=[
                HoursLine(id=f"hours/{told.id}", hours=told.entry.hours, quotes=[told.quote]) for told in self.idle
            ],
            said_prices=self._said_prices(lines),
            prices_file=self.prices.name or None,
            rates_file=self.rates.name or None,
            warnings=list(dict.fromkeys(self.warnings)),
        )

    # --- lines ---

    def _line(self, wanted: Wanted) -> EstimateLine:
        line = EstimateLine(
            id=wanted.id,
            kind=wanted.kind,
            text=wanted.text,
            component=wanted.component,
            position=wanted.position,
            work=wanted.work,
            basis=wanted.basis,
            why=wanted.why,
            count=wanted.count,
            quotes=wanted.quotes,
        )
        if wanted.work == ASK:
            line.to_ask.append("repair or replace")
        elif wanted.kind == "labour":
            line.hours, reason = self._hours(wanted)
            if line.hours and line.hours.origin.kind == "quote":
                # What was said is the time for all of the line.
                line.count = 1
            if line.hours is None:
                line.to_ask.append("hours" + (f": {reason}" if reason else ""))
            self._labour_rate(line, self.story.things.system(wanted.key))
        else:
            line.unit_price, line.currency, reason = self._price(wanted)
            if line.unit_price is None:
                line.to_ask.append("price" + (f": {reason}" if reason else ""))
        return self._priced(line)

    def _said_time(self, told: Statement) -> EstimateLine:
        line = EstimateLine(
            id=f"estimate-labour/said/{told.id}",
            kind="labour",
            text="time that was said",
            component=None,
            position=Position(),
            work="said",
            basis="said",
            why="the rates file takes the hours that the notes say",
            count=1,
            hours=_number(decimal_of(told.entry.hours), _from_quote(told.quote)),
            quotes=[told.quote],
        )
        self._labour_rate(line, "")
        return self._priced(line)

    def _labour_rate(self, line: EstimateLine, system: str) -> None:
        rate = self.rates.rate(system)
        if rate is None:
            line.to_ask.append("labour rate")
            return
        name = self.rates.name or "the rates"
        origin = Origin(
            kind="rates_file", text=f"{name}, line {rate.line}: {rate.name}", file=self.rates.name or None, line=rate.line
        )
        line.rate, line.currency = self._money(rate.rate, rate.currency, origin), rate.currency

    def _priced(self, line: EstimateLine) -> EstimateLine:
        """The line with its amount, unless something of it is to be asked."""
        numbers = [line.hours, line.rate] if line.kind == "labour" else [line.unit_price]
        if line.to_ask or line.currency is None or None in numbers:
            return line
        rounding = self.rates.rounding(line.currency, self.lexicon)
        line.amount, line.amount_low, line.amount_high = (
            rounding.round(money.times(line.count, *(getattr(number, which) for number in numbers)))
            for which in ("value", "low", "high")
        )
        return line

    # --- numbers ---

    def _price(self, wanted: Wanted) -> tuple[Number | None, str | None, str]:
        """The price of one, its currency, and why there is none: of the notes, of the price file, of past jobs."""
        said = self.said.get(wanted.part.id if wanted.part else wanted.id)
        reason = ""
        if said and said.each is not None and said.currency in self.known_currencies:
            return self._money(said.each, said.currency, _from_quote(said.told.quote)), said.currency, ""
        if said:
            reason = said.problem or f"{said.currency} is no currency of ISO 4217"
            # What the notes leave open is asked, and no other number is put in its place.
            return None, None, reason
        axle = wanted.position.axle
        for key in self._keys(wanted.key):
            row, problem = self._chosen(self.prices.find(wanted.kind, key, wanted.work, axle))
            if row:
                return self._money(row.value, row.currency, self._from_row(row)), row.currency, ""
            if problem:
                return None, None, problem
        return self._past_price(wanted)

    def _past_price(self, wanted: Wanted) -> tuple[Number | None, str | None, str]:
        by_currency: dict[str, list[tuple[str, Decimal]]] = {}
        for job in self.past:
            for (kind, key, work, currency), value in job.prices.items():
                if (kind, key, work) == (wanted.kind, wanted.key, wanted.work):
                    by_currency.setdefault(currency, []).append((job.reference, value))
        currency = self.rates.currency if self.rates.currency in by_currency else next(iter(by_currency), None)
        if currency is None:
            return None, None, ""
        if len(by_currency) > 1 and currency != self.rates.currency:
            return None, None, f"past jobs have it in {_listed(by_currency)}; name a currency in the rates file"
        rounding = self.rates.rounding(currency, self.lexicon)
        found, reason = median(by_currency[currency], currency, self.rates.past_jobs_at_least, rounding)
        return found, currency if found else None, reason

    def _hours(self, wanted: Wanted) -> tuple[Number | None, str]:
        said = self.times.get((wanted.key, wanted.work), [])
        if said:
            others = [one for one in self.wanted if (one.kind, one.key, one.work) == ("labour", wanted.key, wanted.work)]
            if len(others) > 1:
                return None, "a time was said, and not for which of the lines"
            if len(said) > 1:
                return None, f"{len(said)} times were said: are they one time or several?"
            return _number(decimal_of(said[0].entry.hours), _from_quote(said[0].quote)), ""
        for key in self._keys(wanted.key):
            row = self.prices.find("labour", key, wanted.work, wanted.position.axle).get("")
            if row:
                return _number(row.value, self._from_row(row)), ""
        values = [(job.reference, job.hours[wanted.key, wanted.work]) for job in self.past if (wanted.key, wanted.work) in job.hours]
        return median(values, "h", self.rates.past_jobs_at_least)

    def _money(self, value: Decimal, currency: str, origin: Origin) -> Number:
        return _number(money.in_coins(value, currency, self.lexicon), origin)

    def _keys(self, key: str) -> list[str]:
        """The component, then what stands for it (a bumper for its cover)."""
        return list(dict.fromkeys((key, self.story.things.same(key))))

    def _chosen(self, rows: dict[str, PriceRow]) -> tuple[PriceRow | None, str]:
        if len(rows) > 1 and self.rates.currency not in rows:
            return None, f"{self.prices.name} has it in {_listed(rows)}; name a currency in the rates file"
        return rows.get(self.rates.currency) or next(iter(rows.values()), None), ""

    def _from_row(self, row: PriceRow) -> Origin:
        note = f" ({row.note})" if row.note else ""
        return Origin(kind="price_file", text=f"{self.prices.name}, line {row.line}{note}", file=self.prices.name, line=row.line)

    def _outside_prices(self) -> None:
        """A price that was said for a thing that is no part to buy, and on which one outside work is done, is for that."""
        left = []
        for told, why in self.homeless:
            lines = [
                one
                for one in self.wanted
                if one.kind == "outside" and told.key is not None and (one.key == told.key or told.key == one.work)
            ]
            if len(lines) == 1 and lines[0].count == 1:
                amount = decimal_of(told.entry.amount)
                self.said[lines[0].id] = Price(told, amount, told.entry.currency, amount)
            else:
                left.append((told, why))
        self.homeless = left

    def _said_prices(self, lines: Sequence[EstimateLine]) -> list[SaidPrice]:
        used = {line.unit_price.origin.quote.entry for line in lines if line.unit_price and line.unit_price.origin.quote}
        whys = {told.id: why for told, why in self.homeless}
        newer = {price.told.key: price for price in self.said.values()}
        found = []
        for told in self.story.of_kind("cost"):
            if told.id in used:
                continue
            why = whys.get(told.id)
            if why is None:
                mine = [price for price in self.said.values() if price.told.id == told.id]
                newest = newer.get(told.key)
                why = (
                    mine[0].problem or "its currency is not known"
                    if mine
                    else f"a newer price was said: {newest.amount:f}"
                    if newest
                    else "a line like it has another price"
                )
            found.append(
                SaidPrice(
                    amount=money.in_coins(decimal_of(told.entry.amount), told.entry.currency, self.lexicon),
                    currency=told.entry.currency,
                    component=self.story.things.thing(told.key) if told.key else None,
                    why=why,
                    quotes=[told.quote],
                )
            )
        return found

    # --- sums ---

    def _totals(self, lines: Sequence[EstimateLine]) -> list[CurrencyTotal]:
        currencies = dict.fromkeys(line.currency for line in lines if line.amount is not None)
        return [self._total(currency, [line for line in lines if line.currency == currency and line.amount is not None])
                for currency in sorted(currencies)]  # fmt: skip

    def _total(self, currency: str, lines: Sequence[EstimateLine]) -> CurrencyTotal:
        net, low, high = _sums(lines)
        taxes = [self._tax(tax, lines) for tax in self.rates.taxes if tax.currency == currency]
        kinds = []
        for kind in _KINDS:
            if of_kind := [line for line in lines if line.kind == kind]:
                kinds.append(KindTotal(kind=kind, **dict(zip(("amount", "amount_low", "amount_high"), _sums(of_kind)))))
        return CurrencyTotal(
            currency=currency,
            lines=len(lines),
            kinds=kinds,
            net=net,
            net_low=low,
            net_high=high,
            taxes=taxes,
            gross=money.total([net, *(tax.tax for tax in taxes)]),
            gross_low=money.total([low, *(tax.tax_low for tax in taxes)]),
            gross_high=money.total([high, *(tax.tax_high for tax in taxes)]),
        )

    def _tax(self, tax: Tax, lines: Sequence[EstimateLine]) -> TaxTotal:
        taxed = [line for line in lines if line.kind in tax.on]
        rounding = self.rates.rounding(tax.currency, self.lexicon)

        def of(amount: Decimal) -> Decimal:
            return rounding.round(money.times(amount, tax.percent, Decimal("0.01")))

        sums = _sums(taxed)
        if self.rates.tax_rounded == "line":
            found = [
                money.total([of(amount) for amount in amounts])
                for amounts in zip(*((line.amount, line.amount_low, line.amount_high) for line in taxed))
            ] or [Decimal(0)] * 3
        else:
            found = [of(amount) for amount in sums]
        return TaxTotal(name=tax.name, percent=tax.percent, on=sums[0], tax=found[0], tax_low=found[1], tax_high=found[2])


def _sums(lines: Collection[EstimateLine]) -> tuple[Decimal, Decimal, Decimal]:
    return (
        money.total([line.amount for line in lines]),
        money.total([line.amount_low for line in lines]),
        money.total([line.amount_high for line in lines]),
    )


def _number(value: Decimal, origin: Origin) -> Number:
    return Number(value=value, low=value, high=value, origin=origin)


def _from_quote(quote: Quote) -> Origin:
    return Origin(kind="quote", text=f"note {quote.note}: “{' '.join(quote.text.split())}”", quote=quote)


def _listed(names: Iterable[str]) -> str:
    return " and ".join(sorted(names))
