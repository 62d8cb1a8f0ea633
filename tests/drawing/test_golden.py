"""The drawings of one small invented house, kept as files: a change is seen, then agreed to.

To agree to a change, look at the new drawings and run ``python tests/drawing/golden.py``.
"""

import pytest
from golden import CASES, FOLDER, draw


@pytest.mark.parametrize("name", CASES)
def test_drawing_is_as_it_was_agreed(name):
    """The drawing is the one that was looked at and kept."""
    kept = (FOLDER / name).read_text("utf-8")
    assert draw(name) == kept, f"{name} has changed; look at it, then run tests/drawing/golden.py"
