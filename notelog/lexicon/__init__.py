"""The trade's vocabulary: in come the CSV files of `lexicon/`, out goes a `Lexicon` of terms and their spoken forms.

Every file can be read and extended by a person in the trade; `check` finds what clashes. Nothing here needs spaCy,
so that searching the archive starts fast.
"""

from notelog.lexicon.forms import Form, Forms, forms_of
from notelog.lexicon.load import Lexicon, Term, load
from notelog.lexicon.words import normal, word_spans

__all__ = ["Form", "Forms", "Lexicon", "Term", "forms_of", "load", "normal", "word_spans"]
