"""What holds for every test.

Property tests take the same examples on every machine and however slow it is, so that a change is judged by what it
changed; the slow round (``./keepfast test --long``) looks for new ones.
"""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("quick", deadline=None, derandomize=True, database=None)
settings.register_profile("long", deadline=None, print_blob=True)
settings.load_profile("quick")
