"""Reading, the first step: a file, standard input or pasted text comes in, a `Note` goes out.

The note holds the text verbatim, what was said in it (`Note.spoken`, mapped to the verbatim text character by
character), and the times of its stretches where the source has them. The format is found from the content, never
from a file's name. A change to

- how bytes become text, and what is refused as no text, belongs in `encoding`,
- plain text and time stamps in it, in `stamps`,
- SubRip and WebVTT, in `subtitles`,
- the JSON of speech recognisers, in `recogniser`,
- limits, files and the order in which formats are tried, in `reader`,
- how the spoken text is put together, in `spoken`.
"""

from .encoding import MAX_BYTES
from .reader import read_bytes, read_file, read_text

__all__ = ["MAX_BYTES", "read_bytes", "read_file", "read_text"]
