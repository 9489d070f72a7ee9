"""What a person asks of a book: one function each, and the only place where book, store, plan, exchange and paper meet.

Start with ``books.py``::

    from keepfast.desk.books import new_book, open_book

    new_book("river.keepfast", name="River trip")
    with open_book("river.keepfast", who="Ana", device="camp laptop") as book:
        frog = book.write("animal", {"field_number": "AB 12", "form": "frog"})       # Acknowledged: on the disk now
        book.write("measurement", {"animal": frog.id, "values": {"length_mm": 41.0}, "how": "calliper"})
        book.append([Entry.from_dict(sent) for sent in outbox])   # made elsewhere; sending twice does no harm
        book.read_since(0)              # -> Written(entry, sequence, store, number, previous, hash)
        book.last_sequence()            # cheap: poll it to hear of other processes
        stop = book.listen(callback)    # told after commit what this process wrote; stop() ends it
        book.state("animal", frog.id)   # -> dict, see book.state.derive
        book.animals(evening=..., trip=..., event=..., tray=..., jar=...)   # -> tuple[Animal], one state order
        book.give_number(series_id)     # -> the next number of this device's block, given to nobody else

What may stand in an entry is the catalogue in ``book.kinds``; a thing's id is the id of the entry that made it, a
UUID in lower case that may be made anywhere (``crypto.randomUUID()`` in a page). ``open_book`` and everything on it
raise ``FindingsError`` with a sentence for the person, and leave the book as it was. A ``Book`` may be shared among
threads. ``evening.py`` reads tonight's animals and writes what was decided.
"""
