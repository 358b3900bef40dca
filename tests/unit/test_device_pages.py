"""The pages of devices and pedals, and what all pages of this kind promise of their drawing."""

from pathlib import Path
from typing import Any

import pytest

from loopdeck.brief.brief import Brief
from loopdeck.brief.folder import save_brief
from loopdeck.engine.pedal_learning import rows_of
from loopdeck.looper.commands import BY_FOOT, COMMANDS, ENGINE, LOOPER, SOUND, check_by_foot
from loopdeck.midi.control_files import load_controls
from loopdeck.protocol.messages import Command, DeviceListChanged, PedalsChanged
from loopdeck.window import keys
from loopdeck.window.layout import SMALLEST, TEXT, layout
from loopdeck.window.pages.devices import DevicesPage
from loopdeck.window.pages.pedals import CHOICES, PedalsPage
from loopdeck.window.ui_state import UiState
from tests.unit.window_tools import Told, levels_told, press, scene, sec, settled, sizes_written, written

THERE = DeviceListChanged(
    ins=("pickup", "pedal board", "keys 24:0"), outs=("organ", "module"), sounds=("a box", "headphones"), system="JACK",
    virtual=True,
)  # fmt: skip
ROWS = rows_of(load_controls("four-switch"))


def command(name: str, /, **args: Any) -> list[Command]:
    return [Command(name=name, args=args)]


class Rig:
    def __init__(self, page: str, there: DeviceListChanged = THERE) -> None:
        self.told, self.ui = Told(), UiState()
        self.told.devices(("in", "pickup", "connected"), ("out", "module", "connected"), ("controls", "", "none"))
        self.told.hear(levels_told())
        self.ui.receive(there)
        self.ui.receive(PedalsChanged(name="four-switch", rows=ROWS))
        self.ui.open_page(page, self.told.view, 0.0)

    def press(self, *names: str, at_sec: float = 0.0) -> list[Any]:
        return [sent for name in names for sent in press(self.ui, self.told, name, at_sec=at_sec)]

    def texts(self) -> list[str]:
        return [text for text, _ in written(self.told.view, 1.0, self.ui)]

    def said(self) -> str:
        message = self.told.view.message(0.0)
        return message.text if message is not None else ""


# ---- devices -------------------------------------------------------------------------------------


def test_what_is_in_use_is_shown_with_what_there_is() -> None:
    rig = Rig("devices")
    texts = rig.texts()
    for text in (
        "pickup",
        "keys 24:0",
        "a port of our own: loopdeck in",
        "in use",
        "on the instrument's input",
        "a box",
    ):
        assert text in texts, text


@pytest.mark.parametrize(
    ("way", "sent"),
    [
        (("Enter", "Down", "Down", "Enter"), command("device", role="in", name="keys 24:0", number=0)),
        (("Enter", "Up", "Enter"), command("device", role="in", name="", number=0)),
        (("Down", "Right", "Up", "Enter"), command("device", role="out", name="organ", number=0)),
        (("Down", "Right", "Down", "Enter"), command("device", role="out", name="virtual", number=0)),
        (
            ("Down", "Down", "Enter", "Down", "Down", "Enter"),
            command("device", role="controls", name="pedal board", number=0),
        ),
        (("Down", "Down", "Down", "Enter", "Down", "Enter"), command("device", role="sound", name="headphones", number=0)),
        (("Down", "Down", "Down", "Enter", "Up", "Enter"), command("device", role="sound", name="", number=0)),
        (("Enter", "Enter"), []),
        (("Enter", "Left", "Down", "Left"), []),
    ],
)  # fmt: skip
def test_a_device_is_chosen_by_key(way: tuple[str, ...], sent: list[Any]) -> None:
    assert Rig("devices").press(*way) == sent


def test_what_is_in_use_already_is_said() -> None:
    rig = Rig("devices")
    rig.press("Enter", "Enter")
    assert rig.said() == "pickup is in use already."


def test_devices_that_come_and_go_are_followed() -> None:
    rig = Rig("devices")
    rig.press("Enter", "Down", "Down")
    rig.ui.receive(DeviceListChanged(ins=("pickup",), system="JACK"))
    assert "keys 24:0" not in rig.texts()
    assert rig.press("Enter") in ([], command("device", role="in", name="", number=0))


def test_without_midi_or_sound_there_is_a_sentence() -> None:
    rig = Rig("devices", DeviceListChanged())
    assert any("No MIDI system answered" in text for text in rig.texts())
    assert rig.press("Enter") == [] and "No MIDI system" in rig.said()
    rig.press("Down", "Down", "Down")
    assert any("no sound device" in text for text in rig.texts())


def test_several_instruments_are_chosen_one_by_one() -> None:
    rig = Rig("devices")
    rig.told.devices(("in", "pickup", "connected"), ("in", "keys 24:0", "connected"), ("out", "module", "connected"))
    page = rig.ui.pages["devices"]
    assert isinstance(page, DevicesPage)
    assert [one.title for one in page.roles(rig.told.view)][:3] == ["instrument 1", "instrument 2", "MIDI out"]
    assert rig.press("Down", "Enter", "Up", "Enter") == command("device", role="in", name="pedal board", number=1)


def test_the_page_leads_to_the_pedals() -> None:
    rig = Rig("devices")
    rig.press("Up", "Enter")
    assert rig.ui.page == "pedals"


# ---- pedals --------------------------------------------------------------------------------------


def test_every_choice_is_a_command_that_a_control_map_takes() -> None:
    for one in CHOICES:
        check_by_foot(one.command, one.args)
        assert one.words
    assert len({(one.command, tuple(one.args.items())) for one in CHOICES}) == len(CHOICES)


def test_every_command_that_needs_no_number_can_be_chosen() -> None:
    chosen = {one.command for one in CHOICES}
    missing = {
        name
        for name, row in COMMANDS.items()
        if (row.owner in (LOOPER, ENGINE, SOUND) or name in BY_FOOT)
        and not any(argument.required for argument in row.arguments)
    } - chosen
    assert missing <= {"late", "pickup", "sound-mute", "learn-take", "learn-end"}


def test_a_command_is_chosen_and_learned_and_its_switch_is_shown() -> None:
    rig = Rig("pedals")
    assert rig.press("Enter") == command("learn", command="start-stop", args={})
    assert "CC 80 short" in rig.texts()
    waiting = PedalsChanged(name="four-switch", rows=ROWS, learning="start-stop", text="Press the switch.")
    rig.ui.receive(waiting)
    assert "nothing yet" in rig.texts()
    rig.ui.receive(PedalsChanged(rows=ROWS, learning="start-stop", heard="CC 64 value 127, channel 1", text=""))
    assert "CC 64 value 127, channel 1" in rig.texts()
    assert rig.press("Enter") == [], "nothing is asked"
    rig.ui.receive(PedalsChanged(rows=ROWS, learning="start-stop", heard="CC 80 value 127, channel 1", asks=True))
    assert rig.press("Enter") == command("learn-take")


def test_escape_and_arrows_leave_learning() -> None:
    for key in ("Esc", "Up", "Left", "Delete"):
        rig = Rig("pedals")
        rig.ui.receive(PedalsChanged(rows=ROWS, learning="start-stop"))
        assert rig.press(key) == command("learn-end"), key
        assert rig.ui.page == "pedals", "the page stays"
        rig.ui.receive(PedalsChanged(rows=ROWS))
        assert rig.press("Esc") == [] and rig.ui.page == ""


def test_a_switch_is_taken_away_by_two_presses() -> None:
    rig = Rig("pedals")
    assert rig.press("Delete") == [] and "once more" in rig.said()
    assert rig.press("Delete", at_sec=1.0) == command("unlearn", command="start-stop", args={})
    assert rig.press("Delete", at_sec=2.0) == []
    assert rig.press("Delete", at_sec=20.0) == [], "too late"
    page = rig.ui.pages["pedals"]
    assert isinstance(page, PedalsPage)
    while page.switches(page.choice):
        rig.press("Down")
    assert rig.press("Delete") == [] and rig.said() == "No switch gives this command."


def test_arrows_go_by_lines_and_by_groups() -> None:
    rig = Rig("pedals")
    page = rig.ui.pages["pedals"]
    assert isinstance(page, PedalsPage)
    groups = []
    for _ in range(7):
        groups.append(page.choice.group)
        rig.press("Right")
    assert groups[:6] == [*keys.GROUPS, "More"] and groups[6] == groups[0]


# ---- drawing -------------------------------------------------------------------------------------

PAGES = ("briefs", "mood", "devices", "pedals", "learning")


@pytest.fixture
def shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> tuple[Any, UiState, str]:
    """A full window with the page open, long names in it."""
    monkeypatch.setattr("loopdeck.configs.own_folder", lambda kind: tmp_path / "config" / kind)
    monkeypatch.setattr("platformdirs.user_data_path", lambda *words, **more: tmp_path)
    name = str(request.param)
    view, ui, told = scene("six-string"), UiState(), Told()
    told.view = view
    long = "a device whose maker could not find the end of its name, and who could blame him for that"
    ui.receive(DeviceListChanged(ins=(long, *(f"in {n}" for n in range(20))), sounds=(long,), system="ALSA"))
    pedals = PedalsChanged(name=long, rows=ROWS, text=f"{long}. {long}.")
    ui.receive(pedals)
    if name == "briefs":
        save_brief(Brief.default().replace(cycle="4/4 7/8 4+3/8 5/4 2/4 6/8", mood=long, technique=long), long[:58])
        for number in range(14):
            save_brief(Brief.default(), f"brief {number}")
    page = "pedals" if name == "learning" else name
    ui.open_page(page, view, 0.0)
    if name == "mood":
        press(ui, told, "Enter")
    if name in ("briefs", "mood"):
        settled(ui, view, page)
    if name == "devices":
        press(ui, told, "Enter")
    if name == "learning":
        ui.receive(PedalsChanged(rows=ROWS, learning="undo", heard="CC 64 value 127, channel 1", text=f"{long}. {long}.", wrong=True, asks=True))  # fmt: skip
    return view, ui, name


@pytest.mark.parametrize("size", [(1280, 720), (800, 450), (2560, 1080), (900, 1200)])
@pytest.mark.parametrize("shown", PAGES, indirect=True)
def test_text_stays_on_the_page_and_off_other_text(shown: tuple[Any, UiState, str], size: tuple[int, int]) -> None:
    view, ui, _ = shown
    log = written(view, sec(7.3), ui, size)
    found = layout(*size)
    inks = [(text, ink) for text, ink in log if found.page.overlaps(ink)]
    assert len(inks) > 8
    for index, (text, ink) in enumerate(inks):
        assert found.page.holds(ink), (text, ink)
        for other_text, other in inks[index + 1 :]:
            if text != other_text:
                assert not ink.inset(1).overlaps(other.inset(1)), (text, ink, other_text, other)


@pytest.mark.parametrize("shown", PAGES, indirect=True)
def test_nothing_is_written_too_small_and_what_matters_is_large(shown: tuple[Any, UiState, str]) -> None:
    view, ui, name = shown
    sizes = sizes_written(view, sec(7.3), ui)
    assert min(sizes.values()) >= SMALLEST, min(sizes, key=lambda text: sizes[text])
    large = {"briefs": "Copper kettle", "devices": "in 3", "learning": "CC 64 value 127, channel 1"}.get(name)
    if large is not None and large in sizes:
        assert sizes[large] >= TEXT, (large, sizes[large])
