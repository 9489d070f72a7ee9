"""What a person asks of a book: one function each, and the only place where book, store, plan, exchange and paper meet."""
