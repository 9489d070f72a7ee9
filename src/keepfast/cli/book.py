"""``book``: make a book, look into it, write in it, prove it, keep it safe."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from keepfast.cli.saying import say, show, show_json
from keepfast.words import _, ngettext

if TYPE_CHECKING:
    from keepfast.desk.attaching import FilesProof
    from keepfast.desk.taking_in import Taken
    from keepfast.store.keeping import Kept
    from keepfast.store.proof import Proof

BOOK = typer.Argument(..., metavar="BOOK", help=_("The book's file."))
AS_JSON = typer.Option(False, "--json", help=_("Print one JSON object instead."))
WHO = typer.Option("", "--who", help=_("Who writes; else KEEPFAST_WHO, else the name of the user."))
DEVICE = typer.Option("", "--device", help=_("On which device; else KEEPFAST_DEVICE, else this machine."))


def register(app: typer.Typer) -> None:
    """Add the commands of the book."""
    group = typer.Typer(
        help=_("The book: one record from capture to jar. Make, read, write, prove and keep it."),
        no_args_is_help=True,
        rich_markup_mode=None,
    )
    group.command("new", help=_("Make an empty book."))(new)
    group.command("info", help=_("What a book holds."))(info)
    group.command("show", help=_("One animal, jar or other thing, with its history."))(show_thing)
    group.command("add", help=_("Write an entry."))(add)
    group.command("correct", help=_("Write other values for an entry, or withdraw it."))(correct)
    group.command("attach", help=_("Keep a copy of a file beside the book, and say to what it belongs."))(attach)
    group.command("kinds", help=_("What kinds of entry there are, and what they may say."))(kinds)
    group.command("reserve", help=_("Set numbers of a series aside for a device."))(reserve)
    group.command("next", help=_("Give out the next number of a device."))(next_number)
    group.command("numbers", help=_("A series: its blocks, what was used, every gap and why."))(numbers)
    group.command("prove", help=_("Prove that nothing was lost or altered."))(prove)
    group.command("rebuild", help=_("Make what is derived from the entries anew, after a backup."))(rebuild)
    group.command("backup", help=_("Copy the book, in use or not, and prove the copy."))(backup)
    group.command("take-in", help=_("Take in what another laptop wrote: first look, then --apply."))(take_in)
    group.command("restore", help=_("Put a backup in a book's place."))(restore)
    app.add_typer(group, name="book")
    app.command("find", help=_("Find by number, name, place, day, person, jar or text; slips are forgiven."))(find)


def new(
    book: Path = BOOK,
    name: str = typer.Option("", "--name", help=_("What the trip or collection is called.")),
    json: bool = AS_JSON,
) -> None:
    """Make an empty book."""
    from keepfast.desk.books import new_book, open_book

    new_book(book, name)
    if json:
        with open_book(book, read_only=True) as opened:
            show_json({"book": str(book), "id": opened.id, "name": name})
    else:
        show(_("Made {book}. Only you can read it; a backup goes with: keepfast book backup").format(book=book))


def info(book: Path = BOOK, json: bool = AS_JSON) -> None:
    """Say what a book holds."""
    from keepfast.desk.books import about, open_book

    with open_book(book, read_only=True) as opened:
        told = about(opened)
    if json:
        show_json(told)
        return
    show(f"{told['name'] or told['book']}")
    show(_("  {n} entries; the last by {who} at {at}").format(
        n=told["entries"], who=told["last_by"] or "-", at=told["last_at"] or "-"
    ))  # fmt: skip
    for kind, count in told["things"].items():
        show(f"  {kind:<12}{count:>8}")
    show(_("  made {made} with Keepfast {version}; id {id}").format(
        made=told["made"][:10], version=told["made_by"], id=told["id"]
    ))  # fmt: skip


def show_thing(
    book: Path = BOOK,
    label: str = typer.Argument(..., metavar="NUMBER", help=_("What people call it, or its id.")),
    kind: str = typer.Option("animal", "--kind", help=_("Kind of thing: animal, jar, place, event ...")),
    json: bool = AS_JSON,
) -> None:
    """Print one thing with its history."""
    from keepfast.desk.books import open_book
    from keepfast.desk.writing import history_of, named, the_one

    _known_thing(kind)
    with open_book(book, read_only=True) as opened:
        state = the_one(opened, kind, label)
        history = history_of(opened, kind, state["id"])
        said = named(opened, kind, state)
        contents = [named(opened, line["kind"], line["content"]) for line in history]
    if json:
        show_json({"kind": kind, "state": state, "history": history})
        return
    lists = [name for name, value in state.items() if isinstance(value, list) and value and isinstance(value[0], dict)]
    for name, value in said.items():
        if name not in (*lists, "entered", "held", "id"):
            show(f"{name:<20}{_plain(value)}")
    show(f"{'id':<20}{state['id']}")
    show("")
    for line, content in zip(history, contents, strict=True):
        show(f"{line['at'][:16].replace('T', ' ')}  {line['kind']:<18}{_plain(line['who'])}")
        show(f"    {line['entry']}")
        for name, value in content.items():
            if name != kind:
                show(f"    {name}: {_plain(value)}")
        for correction in line.get("corrections", ()):
            show(_("    corrected by {who}: {set} ({reason})").format(
                who=_plain(correction["who"]), set=_plain(correction["set"]), reason=_plain(correction["reason"])
            ))  # fmt: skip
        if "withdrawn" in line:
            show(_("    withdrawn: {reason}").format(reason=_plain(line["withdrawn"])))


def add(
    book: Path = BOOK,
    kind: str = typer.Argument(..., help=_("Kind of entry, as in: keepfast book kinds")),
    fields: list[str] = typer.Argument(..., metavar="FIELD=VALUE...", help=_("What it says.")),
    who: str = WHO,
    device: str = DEVICE,
    json: bool = AS_JSON,
) -> None:
    """Write an entry."""
    from keepfast.desk import writing
    from keepfast.desk.books import open_book

    typed = writing.read_pairs(fields)
    with open_book(book, who=who, device=device) as opened:
        done = writing.add(opened, kind, typed)
    _acknowledged(done, kind, json)


def correct(
    book: Path = BOOK,
    entry: str = typer.Argument(
        ..., metavar="NUMBER", help=_("What people call the thing, or the id of an entry, as in: keepfast book show")
    ),
    fields: list[str] = typer.Argument(None, metavar="FIELD=VALUE...", help=_("The right values.")),
    of: str = typer.Option("", "--of", help=_("Kind of entry, such as measurement: the last one about it is meant.")),
    kind: str = typer.Option("animal", "--kind", help=_("Kind of the thing.")),
    reason: str = typer.Option("", "--reason", help=_("Why.")),
    withdraw: bool = typer.Option(False, "--withdraw", help=_("The entry should not have been made.")),
    who: str = WHO,
    device: str = DEVICE,
    json: bool = AS_JSON,
) -> None:
    """Write a correction; the entry itself stays."""
    from keepfast.desk import writing
    from keepfast.desk.books import open_book

    typed = writing.read_pairs(fields or [])
    _known_thing(kind)
    with open_book(book, who=who, device=device) as opened:
        meant = writing.entry_of(opened, entry, kind, of)
        done = writing.correct(opened, meant, typed, reason=reason, withdraw=withdraw)
    _acknowledged(done, "correction", json)


def _acknowledged(done: Any, kind: str, json: bool) -> None:
    if json:
        show_json({"id": done.id, "sequence": done.sequence, "kind": kind})
    else:
        show(_("Written as entry {n}: {id}").format(n=done.sequence, id=done.id))


def attach(
    book: Path = BOOK,
    file: Path = typer.Argument(..., help=_("The file.")),
    to: str = typer.Option(..., "--to", help=_("What people call the thing it belongs to, or its id.")),
    kind: str = typer.Option("animal", "--kind", help=_("Kind of that thing.")),
    remarks: str = typer.Option("", "--remarks", help=_("What it is.")),
    who: str = WHO,
    device: str = DEVICE,
    json: bool = AS_JSON,
) -> None:
    """Attach a file."""
    from keepfast.desk.attaching import attach as keep
    from keepfast.desk.books import open_book

    with open_book(book, who=who, device=device) as opened:
        done = keep(opened, file, kind, to, remarks=remarks)
    _acknowledged(done, "attachment", json)


def kinds(
    kind: str = typer.Argument("", help=_("One kind, with its fields; all kinds if left out.")), json: bool = AS_JSON
) -> None:
    """Print the catalogue of entries."""
    from keepfast.book.kinds import KINDS

    if kind and kind not in KINDS:
        from keepfast.cli.saying import wrong

        wrong("KIND", _("there is no such kind of entry"), _("Known: {known}.").format(known=", ".join(KINDS)), kind)
    chosen = [KINDS[kind]] if kind else list(KINDS.values())
    if json:
        show_json(
            {
                "kinds": {
                    one.name: {
                        "words": _(one.words),
                        "thing": one.thing,
                        "fields": {
                            name: {"sort": f.sort, "words": _(f.words), "needed": f.needed, "choices": list(f.choices)}
                            for name, f in one.fields.items()
                        },
                    }
                    for one in chosen
                }
            }
        )
        return
    for one in chosen:
        show(f"{one.name:<22}{_(one.words)}")
        if kind:
            for name, field in one.fields.items():
                choices = f" ({', '.join(c for c in field.choices if c)})" if field.choices else ""
                needed = _(" needed") if field.needed else ""
                show(f"  {name:<20}{field.sort:<8}{_(field.words)}{choices}{needed}")


def reserve(
    book: Path = BOOK,
    series: str = typer.Argument(..., help=_("Name or id of the series.")),
    count: int = typer.Argument(..., min=1, max=100_000, help=_("How many numbers.")),
    who: str = WHO,
    device: str = DEVICE,
    json: bool = AS_JSON,
) -> None:
    """Set numbers aside for a device."""
    from keepfast.desk.books import open_book
    from keepfast.desk.writing import the_one

    with open_book(book, who=who, device=device) as opened:
        first, last = opened.reserve(the_one(opened, "series", series)["id"], count)
        for_device = opened.device
    if json:
        show_json({"series": series, "device": for_device, "first": first, "last": last})
    else:
        show(_("{first} to {last} are set aside for {device}.").format(first=first, last=last, device=for_device))


def next_number(
    book: Path = BOOK,
    series: str = typer.Argument(..., help=_("Name or id of the series.")),
    to: str = typer.Option("", "--to", help=_("For what.")),
    who: str = WHO,
    device: str = DEVICE,
    json: bool = AS_JSON,
) -> None:
    """Give out one number."""
    from keepfast.desk.books import open_book
    from keepfast.desk.writing import the_one

    with open_book(book, who=who, device=device) as opened:
        number = opened.give_number(the_one(opened, "series", series)["id"], to=to)
    if json:
        show_json({"series": series, "number": number})
    else:
        show(number)


def numbers(
    book: Path = BOOK, series: str = typer.Argument(..., help=_("Name or id of the series.")), json: bool = AS_JSON
) -> None:
    """Account for a series."""
    from keepfast.desk.books import account_of_series, open_book
    from keepfast.desk.writing import the_one

    with open_book(book, read_only=True) as opened:
        told = account_of_series(opened, the_one(opened, "series", series)["id"])
    if json:
        show_json(told)
        return
    show(_("{name}: {used} used, {given} given out").format(**told))
    for block in told["blocks"]:
        show(_("  {first} to {last} for {device}").format(**block))
    for one, other in told["overlaps"]:
        show(_("  {a} and {b} hold some of the same numbers: stop giving them out on one of the two").format(
            a=_plain(one["device"]), b=_plain(other["device"])
        ))  # fmt: skip
    for gap in told["gaps"]:
        span = gap["first"] if gap["first"] == gap["last"] else _("{first} to {last}").format(**gap)
        show(_("  missing: {span} ({why})").format(span=span, why=gap["reason"] or _("nobody has said why")))


def prove(book: Path = BOOK, json: bool = AS_JSON) -> None:
    """Prove a book and the files attached in it; exit 1 where something was lost or altered."""
    from keepfast.desk.attaching import FilesProof, prove_files
    from keepfast.desk.books import open_book

    with open_book(book, read_only=True) as opened:
        proof = opened.ledger.prove(_progress(json))
        files = prove_files(opened) if proof.sound else FilesProof(0, (), ())
    _show_proof(proof, files, json, book)
    if not proof.sound or files.altered:
        raise typer.Exit(1)


def _show_proof(proof: Proof, files: FilesProof, json: bool, book: Path) -> None:
    if json:
        told = {"whole": files.whole, "altered": list(files.altered), "absent": list(files.absent)}
        show_json({"book": str(book), **_proof_dict(proof), "files": told})
        return
    if files.whole or files.altered or files.absent:
        show(_("{n} attached files are as they were.").format(n=files.whole))
    for name in files.altered:
        show(_("  {name} was altered: take it from a backup.").format(name=_plain(name)))
    for name in files.absent:
        show(_("  {name} is not beside the book.").format(name=_plain(name)))
    if proof.sound:
        show(
            _("Sound: {entries} entries in {stores} chains, {things} things, all as the entries give them.").format(
                entries=proof.entries, stores=proof.stores, things=proof.things
            )
        )
        show(f"  {proof.head}")
        return
    for trouble in (*proof.troubles, *proof.derived_troubles):
        show(f"  {trouble}")
    if proof.troubles:
        show(_("Not sound. Leave this file as it is, and take the last backup with: keepfast book restore"))
    else:
        show(_("The entries are whole; what is kept beside them is not. Mend it with: keepfast book rebuild"))


def _proof_dict(proof: Proof) -> dict[str, Any]:
    return {
        "sound": proof.sound,
        "entries": proof.entries,
        "chains": proof.stores,
        "things": proof.things,
        "head": proof.head,
        "troubles": list(proof.troubles),
        "derived_troubles": list(proof.derived_troubles),
    }


def rebuild(book: Path = BOOK, json: bool = AS_JSON) -> None:
    """Make the derived tables anew."""
    from keepfast.desk.books import open_book

    with open_book(book) as opened:
        kept, proof = opened.rebuild()
    if json:
        show_json({"book": str(book), "backup": str(kept), **_proof_dict(proof)})
    else:
        show(_("Made anew from {n} entries. The book as it was lies in {backup}").format(n=proof.entries, backup=kept))
    if not proof.sound:
        raise typer.Exit(1)


def backup(
    book: Path = BOOK,
    target: Path | None = typer.Argument(
        None, metavar="[TO]", help=_("A new file or a folder; beside the book if left out.")
    ),
    to: Path | None = typer.Option(None, "--to", help=_("The same, as an option.")),
    json: bool = AS_JSON,
) -> None:
    """Back a book up."""
    from keepfast.desk.attaching import folder_of
    from keepfast.store.keeping import backup as make

    kept = make(book, target or to, _progress(json))
    _show_kept(kept, json, _("Backed up to {path}, and the copy proves: {n} entries."))
    files = folder_of(book)
    if files.is_dir():
        say(_("Attached files are not in it; copy {folder} too.").format(folder=files))


def take_in(
    other: Path = typer.Argument(..., metavar="OTHER", help=_("The other laptop's book, or a backup of it.")),
    into: Path | None = typer.Option(None, "--into", help=_("The book that takes it in.")),
    apply: bool = typer.Option(False, "--apply", help=_("Write it; without this nothing is written.")),
    another_book: bool = typer.Option(
        False, "--another-book", help=_("OTHER is no copy of the book, but belongs in it all the same.")
    ),
    gone_apart: bool = typer.Option(
        False, "--gone-apart", help=_("Also where one chain was written on in two copies.")
    ),
    json: bool = AS_JSON,
) -> None:
    """Take in what another laptop wrote."""
    from keepfast.cli.saying import wrong
    from keepfast.desk.books import open_book
    from keepfast.desk.taking_in import take_in as take

    if into is None:
        wrong("--into", _("the book is missing"), _("Name it, such as --into spring.keepfast."))
    progress = _progress(json)
    with open_book(into) as opened:
        taken = take(
            opened, other, apply=apply, another_book=another_book, gone_apart=gone_apart,
            progress=(lambda done, of: progress(_("entries"), done, of)) if progress else None,
        )  # fmt: skip
    if json:
        show_json({"book": str(into), "from": str(other), **taken.as_dict()})
    else:
        _show_taken(taken, other)


def _entries(n: int) -> str:
    return ngettext("{n} entry", "{n} entries", n).format(n=f"{n:,}")


def _show_taken(taken: Taken, other: Path) -> None:
    found = taken.entries
    whose = _("a copy of this book") if found.same_book else _("another book")
    show(_("{name}: {whose}; {n} in {chains}, all as they were written").format(
        name=_plain(found.name or other.name), whose=whose, n=_entries(found.there),
        chains=ngettext("{n} chain", "{n} chains", found.chains).format(n=found.chains),
    ))  # fmt: skip
    show(_("New:       {n}").format(n=_entries(found.new)))
    if found.new:
        by = ", ".join(f"{_plain(who)} ({n:,})" for who, n in found.by.items())
        show(_("  by {who}, written {first} to {last}").format(
            who=by, first=found.first_at[:16].replace("T", " "), last=found.last_at[:16].replace("T", " ")
        ))  # fmt: skip
    for kind, n in found.things.items():
        show(f"  {kind:<12}{n:>8,}")
    if taken.files:
        show("  " + ngettext("{n} attached file", "{n} attached files", taken.files).format(n=f"{taken.files:,}"))
    show(_("Here too:  {n}").format(n=_entries(found.there - found.new)))
    show(_("Only here: {n}").format(n=_entries(found.only_here)))
    stranger = not found.same_book and not taken.applied
    if found.twins or taken.altered or taken.absent or found.apart or stranger:
        show(_("To look at:"))
    if stranger:
        show(_("  OTHER is no copy of the book: --apply needs --another-book, and what is taken in stays"))
    if found.apart:
        show(_("  one writer's chain has gone two ways; its entries are chained as written here"))
    for number, n in found.twins.items():
        show(_("  {number} is carried by {n} animals: correct the wrong one, see keepfast check").format(
            number=_plain(number), n=n
        ))  # fmt: skip
    for name in taken.altered:
        show(_("  {name} was altered there, and is not brought").format(name=_plain(name)))
    if taken.absent:
        n = len(taken.absent)
        what = ngettext("{n} attached file lies beside neither", "{n} attached files lie beside neither", n).format(n=n)
        show(_("  {what}: copy the folder that ends in .files too").format(what=what))
    show("")
    if not taken.applied and (found.new or taken.files):
        show(_("Nothing is written yet. The same command with --apply writes all of it."))
    elif not found.new and not taken.files:
        show(_("The book has all this already."))
    else:
        show(_("Taken in: {n}.").format(n=_entries(found.new)))
    if found.only_here:
        show(_("For the other to have all too: keepfast book backup, and take that in there."))


def restore(
    source: Path = typer.Argument(..., metavar="BACKUP", help=_("The backup.")),
    book: Path | None = typer.Argument(None, metavar="BOOK", help=_("Where the book is to be.")),
    to: Path | None = typer.Option(None, "--to", help=_("The same, as an option.")),
    replace: bool = typer.Option(False, "--replace", help=_("Move a book that is there aside; it is not deleted.")),
    json: bool = AS_JSON,
) -> None:
    """Restore a backup."""
    from keepfast.cli.saying import wrong
    from keepfast.store.keeping import restore as make

    target = book or to
    if target is None:
        wrong("BOOK", _("where the book is to be was not said"), _("Name it after the backup."))
    if not source.exists() and target.exists():
        # Named the other way round, which can only mean one thing.
        source, target = target, source
    kept = make(source, target, replace=replace, progress=_progress(json))
    _show_kept(kept, json, _("Restored to {path}, and it proves: {n} entries."))


def _show_kept(kept: Kept, json: bool, words: str) -> None:
    if json:
        answer: dict[str, Any] = {"path": str(kept.path), "sha256": kept.sha256, **_proof_dict(kept.proof)}
        if kept.aside:
            answer["aside"] = str(kept.aside)
        show_json(answer)
        return
    show(words.format(path=kept.path, n=kept.proof.entries))
    if kept.aside:
        show(_("The book that was there is now {aside}").format(aside=kept.aside))


def _progress(json: bool) -> Any:
    """A line that counts on a terminal; nothing where nobody is looking."""
    if json or not sys.stderr.isatty():
        return None

    def tell(what: str, done: int, of: int) -> None:
        print(f"\r  {what}: {done} / {of}    ", end="" if done < of else "\n", file=sys.stderr, flush=True)

    return tell


def _plain(value: Any) -> str:
    """A value on one line, without anything a terminal would obey."""
    import json

    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return "".join(c if c.isprintable() else " " for c in text)


def _known_thing(kind: str) -> None:
    from keepfast.book.kinds import THINGS

    if kind not in THINGS:
        from keepfast.cli.saying import wrong

        wrong("--kind", _("there is no such kind of thing"), _("Known: {known}.").format(known=", ".join(THINGS)), kind)


def find(
    book: Path = BOOK,
    words: list[str] = typer.Argument(
        ..., help=_("Number, name, place, day, person, jar or text; slips are forgiven.")
    ),
    limit: int = typer.Option(50, "--limit", min=1, max=1000, help=_("How many to show.")),
    kind: list[str] = typer.Option([], "--kind", help=_("Only things of this kind; may be given again.")),
    json: bool = AS_JSON,
) -> None:
    """Search a book."""
    from keepfast.desk.books import open_book

    for one in kind:
        _known_thing(one)
    text = " ".join(words)
    with open_book(book, read_only=True) as opened:
        found = opened.find(text, limit, kind)
    if json:
        show_json(
            {
                "asked": text,
                "hits": [
                    {"kind": h.kind, "id": h.id, "label": h.label, "line": h.line, "how": h.how} for h in found.hits
                ],
                "more": found.more,
                "read_as": {word: list(near) for word, near in found.read_as.items()},
            }
        )
        return
    for word, near in found.read_as.items():
        show(_("{word} read as: {near}").format(word=_plain(word), near=", ".join(near[:5])))
    for hit in found.hits:
        show(f"{hit.kind:<11}{_plain(hit.label):<16}{_plain(hit.line)}")
    if found.more:
        show(_("... and more; say another word to narrow it down."))
    if not found.hits:
        say(_("Nothing found. Try fewer words, or part of a number."))
