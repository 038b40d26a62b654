"""Labels: the text gives the part again bit for bit, a misread letter is noticed, and the code fits its size."""

from __future__ import annotations

import contextlib
import dataclasses
import io
import math
import re
import struct

import pypdf
import pytest
import segno
from hypothesis import given, settings
from hypothesis import strategies as st

from sparewatt.errors import BadRequest
from sparewatt.files import demo_list, demo_text, read_text
from sparewatt.parts import HOWS, Machine, Measured, Rig, spec_of
from sparewatt.present.label_code import ALPHABET, letters, unlettered, unsqueezed
from sparewatt.present.label_text import FIELDS, KINDS, ROOM, Label, from_text, rounded, to_text
from sparewatt.present.labels import HIGHEST, ROUNDED, label_code, label_lines, label_of, labels_pdf
from sparewatt.quantities import parse

NOTE = "bench, 24 readings, 2026-05-02"
FITTED = Machine(
    name="walking-machine motor",
    plate_voltage=Measured(130.0, 13.0, "nameplate"),
    plate_current=Measured(9.0, 0.9, "nameplate"),
    plate_speed=Measured(
        parse("5200 rpm", "rad/s").value, parse("5200 rpm", "rad/s").value * 0.1, "nameplate"
    ),
    emf_constant=Measured(0.21123456789012346, 0.0031415926535897933, "measured", NOTE),
    resistance=Measured(0.8612345678901235, 0.07123456789012345, "measured", NOTE),
    brush_drop=Measured(1.1987654321098765, 0.21234567890123456, "measured", NOTE),
    friction=Measured(0.06212345678901235, 0.01212345678901235, "measured", NOTE),
    friction_slope=Measured(5.212345678901235e-05, 1.1234567890123457e-05, "measured", NOTE),
    inertia=Measured(0.0004212345678901235, 5.123456789012345e-05, "measured", NOTE),
)
# This text was printed on a label of the first version; it must read the same for ever.
PRINTED = (
    "SPW:JVXR5KUVH6I-FCN5K5WQWETNGEIT.KOIBWH/BO9LF6BQ.CKCV3ILEV1+EA5L6THBO66U2BQ.GLV1.-PJ5IBAUUJ+MKTHOHM/"
    "ZUL*EWTYD9Y-W*PWSBEO-ZSMQ-FFC/SL2*J+1LPCDBRELU*8+BRZZJ41J1--C2T8OXF2QVMO+DX1NCEZ.*KWOUH8XOS-*3MNLEO+"
    "XBDKE57RK3E+6JFP7ZAX3P4JSZWSNC/2FQ*F*ZQ-NSEP6*/WPH+.B03LFVS0A"
)


def bits(part) -> str:
    """Every number of a part to the last bit, and every text."""
    out = []
    for field in dataclasses.fields(part):
        value = getattr(part, field.name)
        if isinstance(value, Measured):
            out.append((field.name, struct.pack(">dd", value.value, value.sd), value.how, value.note))
        elif isinstance(value, tuple) and value and dataclasses.is_dataclass(value[0]):
            out.append((field.name, [bits(item) for item in value]))
        else:
            out.append((field.name, repr(value)))
    return repr(out)


NUMBERS = st.one_of(st.floats(), st.decimals(-9999, 9999, places=3, allow_nan=False).map(float), st.just(0.0))
TEXTS = st.text(max_size=30)
MEASURED = st.builds(
    Measured, value=NUMBERS, sd=NUMBERS, how=st.sampled_from(HOWS), note=st.one_of(TEXTS, st.just(NOTE))
)
VALUES = {
    "text": TEXTS,
    "flag": st.booleans(),
    "count": st.integers(-(10**6), 10**6),
    "counts": st.lists(st.integers(0, 10**4), max_size=6).map(tuple),
    "curve": st.lists(st.tuples(NUMBERS, NUMBERS), max_size=4).map(tuple),
    "choice": TEXTS,
    "measured": MEASURED,
}

INNER = {"effort", "setting"}  # kinds that stand inside another part


@st.composite
def parts(draw):
    """Any part of any kind that a label can hold, with any numbers and texts at all."""
    record = KINDS[draw(st.sampled_from([kind for kind in KINDS if kind not in INNER]))]
    values = {}
    for field in dataclasses.fields(record):
        spec = spec_of(field)
        if draw(st.booleans()):
            if spec.part is not None:
                inner = {f.name: VALUES[spec_of(f).kind] for f in dataclasses.fields(spec.part)}
                values[field.name] = tuple(draw(st.lists(st.builds(spec.part, **inner), max_size=3)))
            else:
                values[field.name] = draw(VALUES[spec.kind])
    return record(**values)


@settings(max_examples=300, deadline=None)
@given(part=parts(), date=st.one_of(st.dates().map(str), TEXTS), note=TEXTS)
def test_any_part_comes_back(part, date, note):
    """Kind, every value, spread, origin and note, date and note of the label: all as they were, to the last bit."""
    back = from_text(to_text(Label(part=part, date=date, note=note)))
    assert type(back.part) is type(part)
    assert bits(back.part) == bits(part)
    assert (back.date, back.note) == (date, note)


@given(part=parts(), data=st.data())
def test_line_breaks_spaces_and_small_letters_do_no_harm(part, data):
    """A text that was folded into lines, spaced, or written small reads the same."""
    text = to_text(Label(part=part))
    at = data.draw(st.integers(0, len(text)))
    folded = " " + text[:at].lower() + "\r\n  " + text[at:] + "\n"
    assert bits(from_text(folded).part) == bits(part)


@settings(deadline=None)
@given(part=parts(), data=st.data())
def test_one_misread_letter_is_noticed(part, data):
    """Any single letter read as another one is noticed and said."""
    text = to_text(Label(part=part, note="x"))
    at = data.draw(st.integers(4, len(text) - 1))
    other = data.draw(st.sampled_from([letter for letter in ALPHABET if letter != text[at]]))
    with pytest.raises(BadRequest, match="misread"):
        from_text(text[:at] + other + text[at + 1 :])


@given(part=parts(), data=st.data())
def test_a_missing_piece_is_noticed(part, data):
    """A text that was cut short, or two letters swapped, is noticed."""
    text = to_text(Label(part=part, note="x"))
    with pytest.raises(BadRequest, match=r"misread|not the text"):
        from_text(text[: data.draw(st.integers(0, len(text) - 1))])
    at = data.draw(st.integers(4, len(text) - 2))
    if text[at] != text[at + 1]:
        with pytest.raises(BadRequest, match="misread"):
            from_text(text[:at] + text[at + 1] + text[at] + text[at + 2 :])


@given(st.text(max_size=80))
def test_any_other_text_is_refused_in_plain_words(text):
    """What is no label is refused as such, with what to do."""
    for tried in (text, "SPW:" + text):
        with pytest.raises(BadRequest) as caught:
            from_text(tried)
        assert caught.value.problems[0].hint


@given(st.binary(max_size=60))
def test_letters_come_back(raw):
    """Any bytes come back from their letters, which are all in the dense set of the code and hold no space."""
    text = letters(raw)
    assert unlettered(text) == raw
    dense = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"  # ISO/IEC 18004, alphanumeric mode
    assert set(text) <= set(dense) - {" "}
    assert len(text) <= math.ceil(1.5 * len(raw))


@given(st.binary(max_size=60))
def test_loosening_anything_is_refused_or_done(raw):
    """Bytes that were never squeezed raise ValueError and nothing else."""
    with contextlib.suppress(ValueError):
        unsqueezed(raw)


def test_every_field_has_its_code():
    """Each field of each kind of part stands in the table of codes, once; a new field goes at the end of its row."""
    for kind, record in KINDS.items():
        names = [field.name for field in dataclasses.fields(record)]
        assert sorted(FIELDS[kind]) == sorted(names), kind
        assert len(FIELDS[kind]) < 255
    listed = {spec.part for field in dataclasses.fields(Rig) if (spec := spec_of(field)).part is not None}
    small = {"bus", "place", "prices", "ride", "scene", "neighbour"}
    assert {record.__name__.lower() for record in listed} - small == set(KINDS) - INNER


def test_an_old_label_still_reads():
    """A label printed by the first version gives the same part as on the day it was printed."""
    label = from_text(PRINTED)
    assert bits(label.part) == bits(FITTED)
    assert (label.kind, label.date, label.note) == ("machine", "2026-05-02", NOTE)


def test_a_newer_label_says_so():
    """A label of a later version is not guessed at."""
    import zlib

    raw = bytes((2, 0, 0, 0, 0))
    text = "SPW:" + letters(raw + zlib.crc32(raw).to_bytes(4, "big"))
    with pytest.raises(BadRequest, match="newer"):
        from_text(text)


# ---- the code on the label ----


def test_a_whole_machine_fits_with_every_digit():
    """A machine with its plate and six fitted constants of seventeen digits fits without rounding."""
    label = Label(part=FITTED, date="2026-05-02", note=NOTE)
    _, text, short = label_code(label)
    assert not short
    assert len(text) <= ROOM
    assert bits(from_text(text).part) == bits(FITTED)


@pytest.mark.parametrize("demo", [demo.key for demo in demo_list()])
def test_every_part_of_every_demo_fits(demo):
    """Each part of the demo rigs fits as it stands, in a code of at most version 10, level M, dense mode."""
    rig = read_text(demo_text(demo)).rig
    for name, kind in (("machine", "machine"), ("battery", "battery"), ("converter", "converter"), ("stage", "stage"),
                       ("rider", "rider"), ("load", "load")):  # fmt: skip
        held = getattr(rig, name)
        for k, part in enumerate(held if isinstance(held, tuple) else (held,) if held else ()):
            label = label_of(rig, f"{name}.{k}" if isinstance(held, tuple) else name, date="2026-05-02")
            _, text, short = label_code(label)
            code = segno.make(text, error="m", boost_error=False, micro=False)
            assert (label.kind, short) == (kind, False)
            assert int(code.version) <= HIGHEST
            assert (code.mode, code.error) == ("alphanumeric", "M")
            assert bits(from_text(text).part) == bits(part)


def test_the_largest_code_has_the_room():
    """A text of just ROOM letters makes version 10 at level M, one more makes 11 (ISO/IEC 18004, table of capacities)."""
    sizes = [
        int(segno.make("A" * n, error="m", boost_error=False, micro=False).version) for n in (ROOM, ROOM + 1)
    ]
    assert sizes == [10, 11]


def test_too_much_is_rounded_then_refused():
    """What does not fit is rounded to a hundredth of its spread, which the label says; what still does not is refused."""
    noisy = {
        name: Measured(math.sqrt(2 + k), 0.01 / (3 + k), "measured", NOTE)
        for k, name in enumerate(("emf_constant", "resistance", "brush_drop", "friction", "friction_slope", "inertia",
                                  "inductance", "current_limit", "current_limit_short", "speed_limit",
                                  "thermal_resistance", "thermal_time", "field_voltage",
                                  "mass"))
    }  # fmt: skip
    label = Label(part=Machine(name="m", **noisy), note=NOTE)
    _, text, short = label_code(label)
    assert short
    for name, value in noisy.items():
        back = getattr(from_text(text).part, name)
        assert abs(back.value - value.value) <= value.sd / 100
        assert back.sd == pytest.approx(value.sd, rel=0.01)
    assert flat(ROUNDED) in flat(text_of(labels_pdf([label])))
    wordy = Label(
        part=dataclasses.replace(
            FITTED, price=Measured(1.0, 0.0, "guess", "".join(map(chr, range(200, 500))))
        )
    )
    with pytest.raises(BadRequest, match="shorten"):
        label_code(wordy)


def test_rounding_leaves_what_has_no_spread():
    """A counted or set number, and one of no finite spread, is not rounded."""
    part = Machine(
        mass=Measured(2.123456789, 0.0), price=Measured(1 / 3, math.inf), resistance=Measured(1 / 3, 0.01)
    )
    short = rounded(Label(part=part)).part
    assert (short.mass, short.price, short.resistance) == (part.mass, part.price, Measured(0.3333, 0.01))


# ---- the sheet ----


def flat(text: str) -> str:
    """Text without any space."""
    return re.sub(r"[\s\u2009]+", "", text)


def text_of(pdf: bytes) -> str:
    """All words of a PDF."""
    return "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def test_sheet_shows_name_date_and_every_look():
    """Each label has name, date, note and its constants as on a page; nine labels take two pages."""
    rig = read_text(demo_text("skerry")).rig
    labels = [label_of(rig, "machine", date="2026-05-02", note="in the shed")] * 9
    pdf = labels_pdf(labels)
    assert len(pypdf.PdfReader(io.BytesIO(pdf)).pages) == 2
    text = flat(text_of(pdf))
    assert rig.machine is not None
    for word in (rig.machine.name, "2026-05-02", "in the shed", "magnets and brushes"):
        assert flat(word) in text
    lines = label_lines(labels[0])
    assert {shown.look for _, shown in lines} == {"measured", "computed", "guessed"}
    assert [shown.look for _, shown in lines] == sorted(
        [shown.look for _, shown in lines], key="measured".__ne__
    )
    for what, shown in lines[:8]:
        assert flat(what) in text
        assert flat(shown.text) in text


def test_no_name_can_break_the_sheet():
    """Signs of the type setter in a name or note are printed as they are."""
    nasty = '#*[$ _x_ `{"}\\ #panic("no") <b>'
    text = flat(
        text_of(labels_pdf([Label(part=dataclasses.replace(FITTED, name=nasty), note=nasty)], paper="letter"))
    )
    assert text.count(flat(nasty)) == 2


def test_what_cannot_be_printed_is_said():
    """A part that is not there names those that are; no labels and odd paper are refused."""
    rig = read_text(demo_text("skerry")).rig
    for where in ("machin", "converter", "converter.7", "name", "machine.resistance"):
        with pytest.raises(BadRequest, match=r"converter\.0"):
            label_of(rig, where)
    with pytest.raises(BadRequest):
        labels_pdf([])
    with pytest.raises(BadRequest, match="paper"):
        labels_pdf([Label(part=FITTED)], paper="a9")
