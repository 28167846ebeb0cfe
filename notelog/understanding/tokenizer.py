"""A spaCy tokenizer that cuts a note as the lexicon's names are cut."""

from __future__ import annotations

import spacy
from spacy.tokens import Doc
from spacy.vocab import Vocab

from notelog.lexicon.words import plain, word_spans


@spacy.registry.tokenizers("notelog.TradeTokenizer.v1")
def make_tokenizer():
    """Factory of the tokenizer, for the `tokenizer` of a pipeline's configuration."""
    return lambda nlp: TradeTokenizer(nlp.vocab)


class TradeTokenizer:
    """Cuts trade abbreviations ("o/s/f", "M12x1.5", "-2.1deg") as one token and opens hyphens.

    >>> import spacy
    >>> [token.text for token in TradeTokenizer(spacy.blank("en").vocab)("o/s/f anti-roll bar link 17mm nut.")]
    ['o/s/f', 'anti', '-', 'roll', 'bar', 'link', '17mm', 'nut', '.']
    """

    def __init__(self, vocab: Vocab):
        self.vocab = vocab

    def __call__(self, text: str) -> Doc:
        words: list[str] = []
        spaces: list[bool] = []
        at = 0
        for start, end in word_spans(plain(text)):
            if start > at:
                gap = text[at:start]
                if words and gap[0] == " ":
                    spaces[-1] = True
                    gap = gap[1:]
                if gap:
                    words.append(gap)
                    spaces.append(False)
            words.append(text[start:end])
            spaces.append(False)
            at = end
        if at < len(text):
            gap = text[at:]
            if words and gap[0] == " ":
                spaces[-1] = True
                gap = gap[1:]
            if gap:
                words.append(gap)
                spaces.append(False)
        return Doc(self.vocab, words=words, spaces=spaces)

    def to_bytes(self, **kwargs) -> bytes:
        return b""

    def from_bytes(self, data: bytes, **kwargs) -> "TradeTokenizer":
        return self

    def to_disk(self, path, **kwargs) -> None:
        return None

    def from_disk(self, path, **kwargs) -> "TradeTokenizer":
        return self
