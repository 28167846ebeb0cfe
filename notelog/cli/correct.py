"""Commands by which people have the last word: correct, again, history."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any

import typer

from notelog.cli.common import ArchiveFile, AsJson, complete_reference, open_archive, print_json
from notelog.cli.quick import QuickCommand
from notelog.errors import InputError

if TYPE_CHECKING:
    from notelog.archive.again import NoteChanges
    from notelog.archive.corrections import Answer

MOST_SHOWN = 200
"""The most changes that are printed one by one; JSON has all."""


def register(app: typer.Typer) -> None:
    app.command()(correct)
    app.command()(again)
    app.command(cls=QuickCommand)(history)


def correct(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[ENTRY] [FIELD=VALUE]...", help="The entry's number, and what its fields ought to be."),
    ] = None,
    accept: Annotated[bool, typer.Option("--accept", help="The entry is right as it stands.")] = False,
    reject: Annotated[bool, typer.Option("--reject", help="The entry is wrong and shall not be shown.")] = False,
    add: Annotated[
        str | None, typer.Option("--add", metavar="KIND", help="Add an entry of this kind to --job by hand.")
    ] = None,
    answer: Annotated[
        tuple[str, str] | None,
        typer.Option(
            "--answer",
            metavar="QUESTION VALUE",
            help="Answer a question of the job's ledger, and put its entry right by it; '' takes it back.",
        ),
    ] = None,
    job: Annotated[
        str | None,
        typer.Option("--job", metavar="REF", help="The job to add or answer to.", autocompletion=complete_reference),
    ] = None,
    note: Annotated[
        int | None, typer.Option("--note", help="The note to add to; else that of the quote, or the newest.")
    ] = None,
    quote: Annotated[
        str | None, typer.Option("--quote", help="The words of the note that an added entry rests on.")
    ] = None,
    by: Annotated[
        str | None, typer.Option("--by", metavar="NAME", help="Who decides; else the name you are logged in by.")
    ] = None,
    because: Annotated[
        str | None, typer.Option("--because", metavar="TEXT", help="Why, for the entry's history.")
    ] = None,
    seen: Annotated[
        int | None,
        typer.Option("--seen", metavar="REVISION", help="Refuse when the entry was changed since this revision of it."),
    ] = None,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Put right what was understood: accept, change, reject or add an entry, or answer a question.

    Everything is kept for ever, with who and when; no later extraction overwrites it. FIELD= empties a field. `notelog job` shows the numbers of entries, `notelog history` what became of one.
    """
    from notelog.archive import corrections
    from notelog.out import as_json as json_out

    entry_id, values = _entry_and_values(words or [], adds=add is not None)
    wanted = [accept, reject, add is not None, answer is not None, bool(values) and add is None]
    if sum(wanted) != 1:
        raise InputError("Say one thing at a time: FIELD=VALUE, --accept, --reject, --add or --answer.")
    if (entry_id is None) != (add is not None or answer is not None):
        raise InputError(
            "Give the number of the entry, as `notelog job` shows it."
            if entry_id is None
            else f"Entry {entry_id} is there already: --add and --answer take a --job and no entry."
        )
    if (job is None) != (entry_id is not None):
        raise InputError(
            "An entry needs no --job: its number is enough." if job else "Name the job that it belongs to with --job."
        )
    who = by if by is not None else _logged_in()
    with open_archive(archive) as store:
        before = corrections.entry(store, entry_id) if entry_id is not None else None
        more = {"why": because, "seen": seen}
        if answer is not None:
            made = corrections.answer(store, job, *answer, who, seen=seen)
        elif add is not None:
            made = corrections.add(store, job, add, values, who, note=note, words=quote, why=because)
        elif accept:
            made = corrections.accept(store, entry_id, who, **more)
        elif reject:
            made = corrections.reject(store, entry_id, who, **more)
        else:
            made = corrections.change(store, entry_id, values, who, **more)
        events = corrections.history(store, made["id"]) if answer is None else []
    if as_json:
        print_json(json_out.line(made))
    else:
        _tell(before, made, events)


def again(
    reference: Annotated[
        str | None, typer.Argument(metavar="[REF]", help="The job's reference.", autocompletion=complete_reference)
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="The notes of all jobs.")] = False,
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Also the notes that this lexicon and program have read already.")
    ] = False,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Read the notes of a job again, with the lexicon as it is now.

    What people decided stays. What changed is told: added, gone, changed, and kept where the new reading differs from a decision. Each note is stored by itself, so that the same command goes on after an interruption.
    """
    from notelog.archive import again as anew
    from notelog.out import as_json as json_out
    from notelog.out import terminal

    if every == (reference is not None):
        raise InputError("Give either the reference of a job, or --all.")
    changes: list[NoteChanges] = []
    with open_archive(archive) as store:
        to_do = anew.notes_to_read(store, reference, anyway=anyway)
        with terminal.progress("Reading again", len(to_do)) as step:
            try:
                for note_id in to_do:
                    changes.append(anew.read_again(store, note_id))
                    step()
            except KeyboardInterrupt:
                terminal.warn(
                    f"{len(changes)} of {terminal.counted(len(to_do), 'note', 'notes')} read again; the same command "
                    "goes on with the others."
                )
                raise
    if as_json:
        print_json(json_out.array(changes))
    elif not to_do:
        terminal.say("Every note was read with this lexicon and program already; --anyway reads them again.")
    else:
        _tell_changes(changes)
    if problems := [one for one in changes if one.problem]:
        raise InputError(
            f"{terminal.counted(len(problems), 'note', 'notes')} could not be read again, the first one (note "
            f"{problems[0].note} of job {problems[0].job}) since: {problems[0].problem}"
        )


def history(
    entry: Annotated[str, typer.Argument(metavar="ENTRY", help="The entry's number.")],
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Show all that happened to an entry: what was read, and who decided what and when."""
    from notelog.archive import corrections
    from notelog.out import as_json as json_out

    entry_id = _number(entry)
    with open_archive(archive) as store:
        now, events = corrections.entry(store, entry_id), corrections.history(store, entry_id)
        (stands,) = store.connection.execute("SELECT standing FROM entries WHERE id = ?", (entry_id,)).fetchone()
    if as_json:
        print_json(json_out.line({"entry": now, "standing": stands, "events": events}))
        return
    from notelog.out import terminal

    rows = [
        (one.revision, one.at[:16].replace("T", " "), one.who or "extraction", _what(one), one.why) for one in events
    ]
    terminal.say(
        terminal.heading(f"Entry {entry_id}", _described(now), stands),
        terminal.table(("Revision", "When (UTC)", "Who", "What", "Why"), rows, right=("Revision",)),
    )


def _entry_and_values(words: list[str], *, adds: bool) -> tuple[int | None, dict[str, str]]:
    """The entry's number, unless none was given, and the fields with their values."""
    entry_id = _number(words.pop(0)) if words and "=" not in words[0] and not adds else None
    values = {}
    for word in words:
        name, equals, value = word.partition("=")
        name = name.strip().lower()
        if not equals:
            raise InputError(f"{word!r} is no FIELD=VALUE: write it as side=left.")
        if name in values:
            raise InputError(f"The field {name!r} is given twice: give it once.")
        values[name] = value
    return entry_id, values


def _number(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) < 20):
        raise InputError(f"{text!r} is no number of an entry: `notelog job REF` shows the entries with their numbers.")
    return int(text)


def _logged_in() -> str:
    import getpass

    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        raise InputError("Nobody is logged in by name here: say who decides with --by.") from None


def _described(entry: dict[str, Any]) -> str:
    from notelog.out import words

    return ", ".join(part for part in (words.describe(entry), words.place(entry)) if part)


def _tell(before: dict[str, Any] | None, made: Any, events: list[Any]) -> None:
    """What was stored now, and whose decision it took the place of."""
    from notelog.out import terminal, words

    if not isinstance(made, dict):
        told = f"answered {made.value!r}" if made.value is not None else "the answer is taken back"
        terminal.say(f"{made.question}: {told} by {made.who}")
        _tell_answer(made)
        return
    terminal.say(f"Entry {made['id']}: {_described(made)} [{words.decision(made)}]")
    for event in events:
        if event.revision == made["revision"] and event.field:
            terminal.say(f"  {_what(event)}{_said_before(event, events)}")
    if before and before["decided"] and made["decided"]["what"] != "changed":
        terminal.say(f"  it was {words.decision(before)} on {before['decided']['at'][:10]}")


def _tell_answer(made: Answer) -> None:
    """What the answer changed in the entry that it is about."""
    from notelog.out import terminal

    if made.left:
        terminal.say(f"  entry {made.entry['id']} is left as it is: {made.left}")
    elif made.changed:
        terminal.say(f"  entry {made.entry['id']}: {_described(made.entry)}")
        for event in made.changed:
            terminal.say(f"    {_what(event)}")
        if made.changed[-1].field == "component" and made.changed[-1].new is None:
            terminal.say(f"  say which part it is with: notelog correct {made.entry['id']} component=NAME")


def _said_before(event: Any, events: list[Any]) -> str:
    earlier = [one for one in events if one.field == event.field and one.revision < event.revision]
    return f" (which {earlier[-1].who} had set on {earlier[-1].at[:10]})" if earlier else ""


def _what(event: Any) -> str:
    from notelog.archive import fields

    match event.what:
        case "changed":
            return f"{event.field} changed from {fields.in_words(event.old)} to {fields.in_words(event.new)}"
        case "read" if event.old:
            changed = fields.differences(event.old, event.new)
            return f"read as: {_described(event.new)}" + (f" ({_differing(changed)})" if changed else " (as before)")
        case "read":
            return f"read as: {_described(event.new)}"
        case "added":
            return f"added: {_described(event.new)}"
        case "dropped":
            return "no longer read"
        case other:
            return other


def _differing(changed: Iterable[tuple[str, Any, Any]]) -> str:
    from notelog.archive import fields

    return "; ".join(f"{name}: {fields.in_words(old)} to {fields.in_words(new)}" for name, old, new in changed)


def _tell_changes(changes: list[NoteChanges]) -> None:
    from notelog.archive import fields
    from notelog.out import terminal, words

    rows: list[tuple[Any, ...]] = []
    for note in changes:
        where = (note.job, terminal.file_name(note.source))
        rows += [(*where, one["id"], "added", _described(one), "") for one in note.added]
        rows += [(*where, one["id"], "gone", _described(one), "") for one in note.gone]
        for one in note.changed:
            told = _differing(fields.differences(one.before, one.after))
            rows.append((*where, one.before["id"], "changed", _described(one.after), told))
        for one in note.kept:
            told = f"now read as: {_described(one.after)}" if one.after else "no longer read"
            decided = words.decision(one.before | {"decided": one.before["decided"] | {"reading": None}})
            rows.append((*where, one.before["id"], "kept", f"{_described(one.before)} [{decided}]", told))
    if rows:
        headings = ("Job", "Note", "Id", "What", "Entry", "How")
        terminal.say(terminal.table(headings, rows[:MOST_SHOWN], right=("Id",)))
    if len(rows) > MOST_SHOWN:
        terminal.say(f"... and {len(rows) - MOST_SHOWN} more; --json prints all of them.")
    counts = {what: sum(row[3] == what for row in rows) for what in ("added", "gone", "changed", "kept")}
    read = terminal.counted(sum(not one.problem for one in changes), "note", "notes")
    terminal.say(f"{read} read again: " + ", ".join(f"{count} {what}" for what, count in counts.items()))
