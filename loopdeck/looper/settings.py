"""The brief of the moment, and the changes of it that are still to come."""

from typing import Any

from loopdeck.brief.brief import Brief


class Settings:
    """``next_cycle`` is a cycle that begins with the next pass; ``next_beat`` are fields that
    change at the next beat.
    """

    def __init__(self, brief: Brief) -> None:
        self.brief = brief
        self.next_cycle: str | None = None
        self.next_beat: dict[str, str] = {}

    def change(self, **fields: Any) -> None:
        """Change fields of the brief now."""
        self.brief = self.brief.replace(**fields)

    def take_cycle(self) -> bool:
        """The next cycle has come: change to the one that was asked for. True when one was."""
        cycle, self.next_cycle = self.next_cycle, None
        if cycle is not None:
            self.change(cycle=cycle)
        return cycle is not None

    def take_beat(self) -> bool:
        """The next beat has come: change what was asked for. True when anything was."""
        fields, self.next_beat = self.next_beat, {}
        if fields:
            self.change(**fields)
        return bool(fields)

    def take_all(self) -> bool:
        """Time has stopped: what was still to come holds now. True when anything was."""
        fields, cycle = self.take_beat(), self.take_cycle()
        return fields or cycle

    def coming(self) -> Brief:
        """The brief with the cycle that will hold."""
        return self.brief if self.next_cycle is None else self.brief.replace(cycle=self.next_cycle)

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        return (self.brief.to_dict(), self.next_beat, self.next_cycle)
