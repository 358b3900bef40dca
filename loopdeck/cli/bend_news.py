"""What is odd about the bends of a take, in sentences: a range that changes while it is played, and
bends without a note.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopdeck.shelf.take import Take

#: More changes than this are counted, not listed.
_LISTED = 3


def odd_bends(take: "Take") -> list[str]:
    """One sentence each."""
    from loopdeck.capture.bend_wheel import BendWheel

    wheels: dict[tuple[int, int], BendWheel] = {}
    played: set[tuple[int, int]] = set()
    changes: list[str] = []
    bent = False
    for event in take.recording.events:
        if len(event.data) != 3:
            continue
        kind, place = event.data[0] & 0xF0, (event.port, event.data[0] & 0x0F)
        if kind == 0x90 and event.data[2]:
            played.add(place)
        elif kind == 0xE0:
            bent = True
        elif kind == 0xB0:
            wheel = wheels.setdefault(place, BendWheel())
            before = wheel.range
            wheel.control(event.data[1], event.data[2])
            if place in played and wheel.range != before:
                changes.append(
                    f"Channel {place[1] + 1} changes its bend range from {before:g} to {wheel.range:g} semitones "
                    f"at {event.time_sec:.2f} s; each bend is read by the range of its moment."
                )
    if bent and not played:
        return ["There are bends, but no note that they could bend."]
    more = len(changes) - _LISTED
    return changes[:_LISTED] + ([f"The bend range changes {more} times more."] if more > 0 else [])
