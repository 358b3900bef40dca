"""A channel for each string: which way round, and when it is believed."""

from loopdeck.window.position import ChannelStrings

STRINGS = (43, 38, 33, 28)
#: Channel from 0 and pitch: two octaves on all strings, the highest on the first channel.
PER_STRING = [(0, 45), (1, 43), (2, 40), (3, 33), (3, 28), (2, 37)]


def strings_of(notes: list[tuple[int, int]]) -> list[int]:
    one = ChannelStrings()
    return [one.string(channel, pitch, STRINGS) for channel, pitch in notes]


def test_both_orders_are_found() -> None:
    assert strings_of(PER_STRING)[1:] == [2, 3, 4, 4, 3]
    assert strings_of([(3 - channel, pitch) for channel, pitch in PER_STRING])[-3:] == [4, 4, 3]


def test_a_pickup_that_is_switched_over_is_believed_after_a_while() -> None:
    alone = [(0, 28), (0, 40), (0, 33)]
    assert set(strings_of(alone)) == {0}
    assert strings_of(alone + 3 * PER_STRING)[-2:] == [4, 3]


def test_an_order_that_was_found_stands_through_notes_that_fit_both() -> None:
    low_first = [(3 - channel, pitch) for channel, pitch in PER_STRING]
    # On the two middle strings both orders would do.
    middle = [(1 + index % 2, 40 + index % 3) for index in range(3 * ChannelStrings.LAST)]
    assert strings_of(low_first + middle)[-2:] == [4 - channel for channel, _ in middle[-2:]]


def test_more_channels_than_strings_are_no_strings() -> None:
    assert set(strings_of([(10 + channel, pitch) for channel, pitch in PER_STRING])) == {0}
