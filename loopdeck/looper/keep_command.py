"""The command keep: the last passes go to the shelf."""

from dataclasses import replace
from typing import Any

from loopdeck.looper.commands import MOST_PASSES
from loopdeck.looper.core import Core
from loopdeck.looper.heard import Views, text_of_views, views_of_text
from loopdeck.looper.keep import Keep, identity_of, keep_free, keep_passes
from loopdeck.looper.news import Answer, Kept, passes_words
from loopdeck.looper.recorder import PassRecord, Recorder
from loopdeck.looper.state import Refused


class KeepCommand:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core) -> None:
        self._core = core
        self._kept: set[str] = set()

    def keep(self, passes: int, name: str = "", last: int | None = None) -> Answer:
        """Keep the last passes that have ended, up to number ``last`` (from 1) if that is given;
        before the first has, what was played so far. Raises Refused.
        """
        core = self._core
        records = counted(core.recorder)
        if last is not None:
            records = [record for record in records if record.index < last]
            if not records:
                raise Refused(f"Pass {last} is not among the passes of the last minutes.")
        records = records[-passes:]
        if not records and core.state.passing:
            records = [core.record()]
        keep = self._keep(records, name)
        if not keep.events and not keep.layers:
            raise Refused(_nothing(records, core.recorder))
        core.tell(Kept(core.now_sec, keep))
        again = keep.identity in self._kept
        self._kept.add(keep.identity)
        if not records or not records[-1].finished:
            return Answer("Kept already what was played so far." if again else "Kept what was played so far.")
        words = passes_words(records)
        return Answer(
            f"{words.capitalize()} {'was' if len(records) == 1 else 'were'} kept already."
            if again
            else f"Kept {words}."
        )

    def _keep(self, records: list[PassRecord], name: str) -> Keep:
        core, stack, recorder = self._core, self._core.stack, self._core.recorder
        more: dict[str, Any] = {
            "name": name,
            "layers": tuple(stack.layers()),
            "muted": stack.quiet_numbers(),
            "late": dict(sorted(recorder.late_sec.items())),
        }
        if records:
            keep = keep_passes(recorder, core.transport, records, core.now_sec, core.brief, **more)
        else:
            keep = keep_free(recorder, core.now_sec, core.brief, **more)
        if recorder.pickups:
            keep = replace(keep, views=_views(recorder, keep))
        heard = [identity for identity in stack.active if not stack.quiet(identity)]
        identity = identity_of(records, keep.events, keep.start_sec, heard)
        back = len(views_of_text(keep.views).back)
        return replace(keep, identity=f"{identity}, {back} brought back" if back else identity)

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        return tuple(sorted(self._kept))


def counted(recorder: Recorder) -> list[PassRecord]:
    """The passes that have ended. One that a stop cut short before anything was played in it is no
    pass to the player: nobody stops on the very bar line.
    """
    finished = recorder.finished()
    last = len(finished)
    while last and not finished[last - 1].notes and finished[last - 1].cut_short:
        last -= 1
    return finished[:last] or finished


def _nothing(records: list[PassRecord], recorder: Recorder) -> str:
    """Why there is nothing to keep in these passes, in a sentence."""
    if not any(record.notes for record in recorder.finished()):
        return "Nothing was played yet that could be kept."
    further = "; keep more passes to reach further back" if len(records) < MOST_PASSES else ""
    return f"Nothing was played in {passes_words(records)}{further}."


def _views(recorder: Recorder, keep: Keep) -> str:
    """How the inputs heard their strings, and which notes of the keep the player brought back."""
    notes = (recorder.notes[one] for one in sorted(recorder.brought_back) if one in recorder.notes)
    end_sec = keep.end_sec + 1.0
    back = [
        (note.stamp_sec - keep.start_sec - recorder.late_sec.get(note.port, 0.0), note.pitch)
        for note in notes
        if -1.0 <= note.stamp_sec - keep.start_sec <= end_sec
    ]
    return text_of_views(Views(dict(recorder.pickups), tuple(back)))
