"""The catalogues of other languages, and ``gather.py``, which finds the texts and compiles what was translated."""
