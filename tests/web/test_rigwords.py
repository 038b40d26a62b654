"""Parts and keys of a rig in words, as the pages say them."""

from __future__ import annotations

from tests.rig.test_circuit import TWO_SIDES

from sparewatt.files import read_text
from sparewatt.web.rigwords import changeable, key_words


def test_a_setting_of_a_board_can_be_changed_and_is_named_by_its_board() -> None:
    """Each setting is a group of its own on the page, and its keys say which board and which setting."""
    rig = read_text(TWO_SIDES).rig
    groups = dict(changeable(rig, inch=False))
    assert [field.key for field in groups["tool board at 90 V"]] == ["converter.1.setting.0.set_voltage"]
    assert key_words(rig, "converter.1.setting.0.set_voltage") == "tool board at 90 V: set voltage"
    assert key_words(rig, "converter.1.set_voltage") == "tool board: set voltage"


def test_a_piece_says_what_it_leads_to() -> None:
    """Two wires of one run are told apart by the load they lead to."""
    names = [name for name, _fields in changeable(read_text(TWO_SIDES).rig, inch=False)]
    assert "Wire: load" in names
    assert "Wire: load to the drill" in names
