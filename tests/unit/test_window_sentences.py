"""Long sentences of the window: none is cut off, and two lines do not touch."""

import pytest

from loopdeck.brief.brief import SPECS
from loopdeck.window import briefpage
from loopdeck.window.layout import SMALLEST
from loopdeck.window.sent import Entry
from loopdeck.window.ui_state import UiState
from tests.unit.window_tools import Told, sizes_written, written

TYPED = "two on and two off"


def reason(field: str) -> str:
    """What the field says of nonsense."""
    with pytest.raises(ValueError) as raised:
        SPECS[field].read(TYPED)
    return str(raised.value).removeprefix(f"{field}: ")


@pytest.mark.parametrize("field", [line.field for line in briefpage.LINES])
def test_the_reason_why_a_value_cannot_be_used_is_read_whole(field: str) -> None:
    told, ui = Told(), UiState(page="brief", entry=Entry(field, TYPED, reason(field)))
    told.clock()
    texts = [text for text, _ in written(told.view, 0.0, ui)]
    assert any(text.endswith(f"{TYPED}_") for text in texts)
    lines = [text for text in texts if text in reason(field)]
    assert " ".join(lines[-2:]).endswith(reason(field)) and len(lines[-1]) > 3
    assert min(sizes_written(told.view, 0.0, ui).values()) >= SMALLEST


def test_a_long_message_stands_on_two_lines_that_do_not_touch() -> None:
    told = Told()
    told.view.tell("The take waits for room on the disk. " * 4 + "It is in the journal.", True, 0.0)
    upper, lower = [box for text, box in written(told.view, 0.1, UiState()) if "journal" in text or "The take" in text]
    assert upper.bottom < lower.y
