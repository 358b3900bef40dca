"""What the player may choose while playing (devices, and switches that are learned), made and wired
together for ``build``.
"""

from pathlib import Path

from loopdeck.audio.output import SoundOutput
from loopdeck.audio.sound_device import sound_device_names
from loopdeck.engine.command_door import CommandDoor
from loopdeck.engine.device_chooser import DeviceChooser
from loopdeck.engine.device_memory import IN, Chosen, DeviceMemory
from loopdeck.engine.events import Inbox, ToDo, ToSay
from loopdeck.engine.pedal_board import PedalBoard
from loopdeck.engine.pedal_learning import PedalLearning
from loopdeck.engine.player_messages import PlayerMessages
from loopdeck.midi.port_set import PortSet
from loopdeck.process.options import Options
from loopdeck.session.session import Session


def make_choices(
    options: Options,
    chosen: Chosen,
    board: PedalBoard,
    session: Session,
    ports: PortSet,
    sound: SoundOutput,
    messages: PlayerMessages,
    door: CommandDoor,
    inbox: Inbox,
) -> tuple[PedalLearning, DeviceMemory]:
    """The learning of pedals, a timer; and the memory, which is to be ended. What was chosen in a
    session that is taken up again (``chosen``) is as it was.
    """
    memory = DeviceMemory(options.journal, chosen, lambda text: inbox.put(ToSay(text, True)))
    first_come = options.midi.first_come and all(role != IN for role, _ in chosen.names)
    chooser = DeviceChooser(session, ports, sound, board, messages, memory, door.keys_port, first_come)
    name = Path(options.midi.controls).stem if options.midi.controls else ""
    learning = PedalLearning(board, session, messages, memory, name, door.keys_port)
    board.apply = door.apply
    door.acts |= {"device": chooser.choose, **learning.acts()}
    chooser.watch(inbox, sound_device_names if options.sound.way in ("auto", "on") else None)
    chooser.tell()
    inbox.put(ToDo(learning.restore))
    return learning, memory
