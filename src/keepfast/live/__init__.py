"""The live screens at the table: pages, stream, outbox script, static files. Everything it knows comes from ``desk``."""
