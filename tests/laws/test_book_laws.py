"""Laws of the record: the order of coming does not matter, and what is kept is what the entries give."""

import contextlib
import datetime
import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keepfast.book.entries import Entry
from keepfast.book.kinds import KINDS, findings_of
from keepfast.desk.books import new_book, open_book
from keepfast.desk.checking import check_book
from keepfast.findings import FindingsError

# Few ids, so that entries meet: each may make a thing, add to it, or correct another entry.
IDS = [f"01980000-0000-7000-8000-00000000000{i}" for i in range(8)]
MORE = [f"01980000-0000-7000-8000-0000000001{i:02d}" for i in range(60)]
ids = st.sampled_from(IDS)
START = datetime.datetime(2026, 3, 14, tzinfo=datetime.UTC)
moments = st.integers(0, 40).map(lambda m: START + datetime.timedelta(minutes=m))
texts = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "Zs", "Mn", "So")), min_size=1, max_size=12)

junk = st.none() | st.integers() | texts | st.lists(texts, max_size=2)
ODD = {"remarks": texts, "values": junk, "event": junk, "animals": junk, "set": junk, "animal": junk, "number": junk}
masses = st.integers(1, 9) | st.floats(0, 1e6)  # 40.0 and 40 are one number in the record


def contents(kind):
    some = {
        "animal": {"field_number": texts, "sex": st.sampled_from(["male", "female"]), "event": ids, "remarks": texts},
        "event": {"number": texts, "place": ids, "when": st.sampled_from(["2026-03-14", "2026", "2026-03-14/16"])},
        "place": {"name": texts, "country": texts},
        "jar": {"number": texts, "shelf": texts},
        "measurement": {
            "animal": ids,
            "values": st.fixed_dictionaries({"mass_g": st.integers(1, 9) | st.floats(0, 1e6)}),
        },
        "determination": {"animal": ids, "taxon": texts, "on": st.sampled_from(["1932", "2020-05"])},
        "moved": {"animals": st.lists(ids, min_size=1, max_size=3), "jar": ids},
        "number_given": {"series": ids, "number": st.integers(1, 9), "device": texts},
        "session_change": {"session": ids, "change": st.just("paused")},
    }[kind]
    return st.fixed_dictionaries(some)


@st.composite
def entries(draw):
    """A handful of valid entries with ids of their own, some correcting one another before they come."""
    made = []
    free = [*IDS, *MORE]
    for _ in range(draw(st.integers(1, 14))):
        entry_id = draw(st.sampled_from(free))
        free.remove(entry_id)
        if made and draw(st.booleans()) and draw(st.booleans()):
            target = draw(st.sampled_from([*made, None]))
            of, kind = (target.id, target.kind) if target else (draw(ids), "animal")
            if kind == "correction":
                # What a correction of a correction sets fits or not only once the entry at its root is known.
                content = {"set": {"set": draw(st.fixed_dictionaries({}, optional=ODD))}}
            elif kind == "measurement":
                content = {"set": {"animal": draw(ids)}}
            elif kind == "number_given":
                content = {"set": {"number": draw(st.integers(1, 9))}}
            else:
                content = {"set": {"remarks": draw(texts)}}
            if draw(st.booleans()):
                content = {"withdraw": draw(st.booleans()), **(content if draw(st.booleans()) else {})}
            content |= {"entry": of, "of_kind": kind, "reason": draw(texts)}
            entry = Entry("correction", content, "Ana", "laptop", draw(moments), entry_id)
        else:
            kind = draw(st.sampled_from(["animal", "animal", "event", "place", "jar", "measurement", "determination",
                                         "moved", "number_given", "session_change"]))  # fmt: skip
            content = draw(contents(kind))
            if kind in ("animal", "event", "place", "jar") and draw(st.booleans()):
                content[kind] = draw(ids)
            entry = Entry(kind, content, draw(st.sampled_from(["Ana", "Ben"])), "laptop", draw(moments), entry_id)
        if not findings_of(entry):
            made.append(entry)
    return made


def all_state(path, batches):
    """Every derived row after these batches, and whether the book proves before and after a rebuild."""
    from sqlalchemy import select

    from keepfast.store import derived, search
    from keepfast.store.tables import about, correction, link, thing

    new_book(path)
    with open_book(path) as book:
        for batch in batches:
            book.append(batch)
        engine = book.ledger.opened.engine

        def kept():
            with engine.connect() as connection:
                return {
                    "things": connection.execute(select(thing).order_by(thing.c.kind, thing.c.id)).all(),
                    "links": sorted(map(tuple, connection.execute(select(link)))),
                    "roots": sorted(
                        (target, root or "") for target, root in
                        connection.execute(select(correction.c.target, correction.c.root))
                    ),
                    "about": sorted(map(tuple, connection.execute(select(about.c.kind, about.c.thing)))),
                    "documents": sorted(
                        map(tuple, connection.execute(select(*[c for c in search.documents.c if c.name != "row"])))
                    ),
                }  # fmt: skip

        before = kept()
        proof = book.ledger.prove()
        assert proof.sound, proof
        with engine.connect().execution_options(write=True) as connection, connection.begin():
            derived.rebuild(connection)
        assert kept() == before
        assert book.ledger.prove().sound
    return before


@given(st.data(), entries())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
def test_any_order_and_any_batches_give_the_same_state_and_rebuilt_equals_kept(data, made):
    other = data.draw(st.permutations(made))
    cuts = sorted(data.draw(st.lists(st.integers(0, len(other)), max_size=4)))
    batches = [other[a:b] for a, b in zip([0, *cuts], [*cuts, len(other)], strict=True)]
    with tempfile.TemporaryDirectory() as folder:
        at_once = all_state(Path(folder) / "one.keepfast", [made])
        # Sent in another order, in pieces, and every piece twice, as an impatient outbox does.
        in_pieces = all_state(Path(folder) / "two.keepfast", [part for part in batches for _ in range(2)])

    assert at_once == in_pieces


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9) | st.sampled_from(IDS),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=8,
)


@st.composite
def wild_contents(draw):
    """Content of a kind with its own names and whatever values, as a broken or hostile page might send it."""
    kind = KINDS[draw(st.sampled_from(sorted(KINDS)))]
    names = st.sampled_from(sorted(kind.fields)) | st.text(max_size=6)
    content = draw(st.dictionaries(names, json_values, max_size=5))
    for name, field in kind.fields.items():
        if field.needed and draw(st.booleans()):
            content[name] = draw(likely(field))
    return kind.name, content


def likely(field):
    """A value that is likely to fit a field."""
    words = [choice for choice in field.choices if choice] or ["x", "correction", "animal"]
    sorts = {
        "text": st.sampled_from(words),
        "texts": st.just([]),
        "id": ids,
        "ids": st.lists(ids, min_size=1, max_size=2),
        "number": st.integers(0, 9),
        "numbers": st.just({"mass_g": 1}),
        "whole": st.integers(0, 9),
        "object": st.just({"values": []}) | json_values,
    }
    return sorts.get(field.sort, json_values)


@given(st.lists(wild_contents(), min_size=1, max_size=12))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_whatever_is_sent_is_either_refused_with_a_sentence_or_kept_sound(contents):
    with tempfile.TemporaryDirectory() as folder:
        new_book(Path(folder) / "b")
        with open_book(Path(folder) / "b", who="Ana") as book:
            for place, (kind, content) in enumerate(contents):
                sent = {"id": MORE[place], "device": "phone", "who": "Ana", "at": START.isoformat(), "kind": kind,
                        "content": content}  # fmt: skip
                before = book.last_sequence()
                try:
                    book.append([Entry.from_dict(sent)])
                except FindingsError:
                    assert before == book.last_sequence()
            assert book.ledger.prove().sound
            check_book(book)


@given(st.dictionaries(st.sampled_from(["id", "device", "who", "at", "kind", "content", "order_ms", "x"]), json_values))
def test_no_message_on_the_wire_ends_in_anything_but_findings(said):
    with contextlib.suppress(FindingsError):
        Entry.from_dict(said)
