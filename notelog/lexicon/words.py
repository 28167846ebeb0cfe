"""Cutting text into words (`notelog.wording`), under the name by which the lexicon's users know it."""

from notelog.wording import normal, plain, word_spans, words_of

__all__ = ["normal", "plain", "word_spans", "words_of"]
