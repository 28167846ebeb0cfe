"""The last step: what was understood and stored, put into a form for people and other programs.

Comes in: logs and jobs (as plain dictionaries and dataclasses). Goes out: tables for a terminal (`terminal`),
JSON (`as_json`), CSV (`as_csv`), and files that are whole or not there at all (`files`). `words` puts an
entry into a few words. None of it needs more than the standard library and rich.
"""
