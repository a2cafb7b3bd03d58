"""The catalogue as files: what comes with the package is whole, and a user's faulty kind is told by file and field."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib import resources
from pathlib import Path

import pytest

from subbase.catalog import CALLS, LoadPart, TransformerPart, load_catalog, read_kind
from subbase.catalog.load import MOST_BYTES
from subbase.errors import InputError

KINDS = load_catalog()
NAMES = tuple(sorted(KINDS))

WANTED = """
air-handler air-handler-strips-1 air-handler-strips-1-interlock air-handler-strips-2 air-handler-strips-2-interlock
air-handler-strips-3 air-handler-strips-3-interlock boiler-gas-circuit boiler-start-pair boiler-steam circulator-relay
class-2-transformer condensing-unit-1 condensing-unit-2 dehumidifier electric-heat-relay fan-centre float-switch
gas-furnace-1 gas-furnace-2 gas-furnace-standing-pilot heat-pump-1-b heat-pump-1-o heat-pump-2-b heat-pump-2-o humidifier
isolation-relay limit-switch oil-furnace packaged-unit-gas packaged-unit-heat-pump-o sharing-adapter-board
sharing-adapter-wall ventilator zone-panel-2 zone-panel-3 zone-valve-heat-motor zone-valve-motor
"""

KNOWN_HOW = re.compile(r"from memory|common practice, no source|own scheme, not a standard|\bTM \d|\bIEC \d|\bNFPA \d")

SMALL = """
kind = "bell"
title = "A bell"
group = "device"
common = "C"

[terminals]
A = "bell"
C = "common"

[[part]]
id = "coil"
type = "load"
between = ["A", "C"]
va = 3
source = "from memory"

[[part]]
id = "stop"
type = "switch"
between = ["A", "C"]
acts_when = "pressed"
source = "common practice, no source"
"""
"""A sound kind, to be spoilt in one place at a time."""


def test_every_kind_of_equipment_that_a_survey_may_name_is_there() -> None:
    """The package brings each of the kinds asked for."""
    assert set(WANTED.split()) <= set(NAMES)


def test_a_kinds_file_bears_its_name() -> None:
    """The file `heat-pump-1-o.toml` holds the kind heat-pump-1-o, so a kind is found where one looks for it."""
    files = [item for item in (resources.files("subbase.catalog") / "kinds").iterdir() if item.name.endswith(".toml")]
    assert len(files) == len(NAMES)
    for item in files:
        assert f"{read_kind(item.read_bytes(), item.name).kind}.toml" == item.name


@pytest.mark.parametrize("name", NAMES)
def test_every_part_says_how_its_values_are_known(name: str) -> None:
    """Each part names a standard or manual, or owns up to memory, common practice or our own scheme."""
    assert [part.id for part in KINDS[name].parts if not KNOWN_HOW.search(part.source)] == []


@pytest.mark.parametrize("name", NAMES)
def test_every_kind_is_told_in_plain_words(name: str) -> None:
    """Title, purpose, terminals, loads and switches all have words for the papers, and the sentences end as sentences do."""
    kind = KINDS[name]
    assert kind.title
    assert all(kind.terminals.values())
    assert all(part.what for part in kind.parts if part.type in ("load", "switch", "transformer", "fuse"))
    assert all(text.endswith(".") for text in (kind.about, *kind.cautions))


@pytest.mark.parametrize("name", NAMES)
def test_every_kind_that_can_hurt_has_its_cautions(name: str) -> None:
    """Line voltage where there is a transformer, gas by the valve, air over strips, rest and refrigerant for compressors."""
    kind = KINDS[name]
    said = " ".join(kind.cautions).lower()
    ids = {part.id for part in kind.parts}
    dangers = {
        "line voltage": any(isinstance(part, TransformerPart) for part in kind.parts) or kind.site == "outdoor",
        "smell it": any(part.startswith("gas-valve") for part in ids),
        "never run without the fan": any(part.startswith("strip-") for part in ids),
        "rest five minutes": "contactor" in ids,
        "refrigerant circuit": "contactor" in ids,
        "low-water cut-off": "low-water-cut-off" in ids,
        "two supplies": bool(kind.zones),
    }
    assert [words for words, needed in dangers.items() if needed and words not in said] == []


@pytest.mark.parametrize("name", NAMES)
def test_every_load_releases_below_where_it_pulls_in(name: str) -> None:
    """A load whose release lay above its pull-in would never rest."""
    loads = KINDS[name].loads()
    assert [load.id for load in loads if not load.drop_out < load.pull_in] == []
    assert [load.id for load in loads if load.va_inrush is not None and load.va_inrush < load.va] == []


@pytest.mark.parametrize("name", NAMES)
def test_sequences_and_conditions_belong_to_calls_and_go_forward(name: str) -> None:
    """A sequence is told for a call that the kind answers, in order of time, each step in words."""
    kind = KINDS[name]
    assert kind.sequence.keys() <= kind.calls.keys()
    assert {condition.during for condition in kind.conditions.values()} <= kind.calls.keys()
    for steps in kind.sequence.values():
        times = [step.after_s for step in steps]
        assert times == sorted(times)
        assert times[0] >= 0
        assert all(step.what for step in steps)


def test_the_built_in_catalogue_cannot_be_altered() -> None:
    """Nobody changes a kind for everybody else by accident."""
    with pytest.raises(TypeError, match="does not support item assignment"):
        KINDS["bell"] = KINDS["air-handler"]  # type: ignore[index]


def faults_of(text: str | bytes) -> list[tuple[str, str, str]]:
    """Return (file, field, message) of each fault that a kind's text is refused for."""
    raw = text.encode() if isinstance(text, str) else text
    with pytest.raises(InputError) as caught:
        read_kind(raw, "bell.toml")
    assert str(caught.value).startswith("bell.toml: ")
    return [(fault.file, fault.where, fault.message) for fault in caught.value.faults]


def test_the_small_kind_is_sound() -> None:
    """What the next tests spoil reads well as it stands."""
    kind = read_kind(SMALL.encode(), "bell.toml")
    assert [part.id for part in kind.parts] == ["coil", "stop"]


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"kind = [", "not readable TOML"),
        (b"kind = 'a'\nkind = 'b'", "Cannot overwrite a value"),
        (b"kind = '\xff'", "not readable TOML"),
        (b"#" * (MOST_BYTES + 1), f"larger than {MOST_BYTES} bytes"),
    ],
    ids=["cut off", "key given twice", "not UTF-8", "too large"],
)
def test_a_file_that_cannot_be_read_is_refused_by_name(raw: bytes, says: str) -> None:
    """Broken TOML, a repeated key, foreign bytes and too much text are one sentence each, with the file."""
    [(file, where, message)] = faults_of(raw)
    assert (file, where) == ("bell.toml", "")
    assert says in message


def test_a_file_of_just_the_largest_size_is_still_read() -> None:
    """The limit itself is allowed."""
    raw = SMALL.encode()
    assert read_kind(raw + b"#" * (MOST_BYTES - len(raw)), "bell.toml").kind == "bell"


FIELDS: tuple[tuple[str, str, str, str], ...] = (
    # old text, new text, field named, words in the message
    ('kind = "bell"', 'kind = "Bell 1"', "kind", "pattern"),
    ('group = "device"', 'group = "gadget"', "group", "'zoning'"),
    ('group = "device"', 'group = "device"\ncolour = "red"', "colour", "not permitted"),
    ('title = "A bell"', "", "title", "required"),
    ("va = 3", "va = 3\nwatts = 3", "part.0.load.watts", "not permitted"),
    ("va = 3", "va = 0", "part.0.load.va", "greater than 0"),
    ("va = 3", "va = inf", "part.0.load.va", "finite"),
    ("va = 3", "va = nan", "part.0.load.va", "finite"),
    ("va = 3", 'va = "much"', "part.0.load.va", "number"),
    ("va = 3", "va = 3\npf = 1.2", "part.0.load.pf", "less than or equal to 1"),
    ("va = 3", "va = 3\ndelay_s = -1", "part.0.load.delay_s", "greater than or equal to 0"),
    ('source = "from memory"', "", "part.0.load.source", "required"),
    ('type = "load"', 'type = "lode"', "part.0", "'lode'"),
    ('type = "load"', "", "part.0", "discriminator 'type'"),
    ('between = ["A", "C"]\nva', 'between = ["A"]\nva', "part.0.load.between.1", "required"),
    ('acts_when = "pressed"', 'acts_when = "pressed"\nnormally = "ajar"', "part.1.switch.normally", "'open' or 'closed'"),
)  # fmt: skip


@pytest.mark.parametrize(("old", "new", "where", "says"), FIELDS, ids=[f"{where}: {new or 'left out'}" for _, new, where, _ in FIELDS])  # fmt: skip
def test_a_wrong_field_is_named_with_its_place(old: str, new: str, where: str, says: str) -> None:
    """An unknown word, a value out of range or a missing field is told with file and field."""
    assert old in SMALL
    [(file, field, message)] = faults_of(SMALL.replace(old, new, 1))
    assert (file, field) == ("bell.toml", where)
    assert says in message


def call(name: str, text: str) -> str:
    """Return the small kind with a call."""
    return f'{SMALL}\n[calls."{name}"]\n{text}\n'


def contact(worked_by: str) -> str:
    """Return the small kind with a contact."""
    return f'{SMALL}\n[[part]]\nid = "pair"\ntype = "contact"\nbetween = ["A", "C"]\nworked_by = ["{worked_by}"]\nsource = "from memory"\n'


NAMED: tuple[tuple[str, str], ...] = (
    (SMALL.replace('common = "C"', 'common = "Q"'), "common Q is not a terminal."),
    (SMALL.replace('common = "C"', 'common = "C"\nsupply = "Q"'), "supply Q is not a terminal."),
    (SMALL.replace('id = "stop"', 'id = "coil"'), "part coil is given twice."),
    (contact("cool"), "contact pair is worked by cool, which is not a load."),
    (contact("stop"), "contact pair is worked by stop, which is not a load."),
    (call("heat 1", 'energise = ["W"]'), "calls.heat 1 names terminal W, which does not exist."),
    (call("heat 1", 'close = [["A", "B"]]'), "calls.heat 1 names terminal B, which does not exist."),
    (call("fan", 'on = ["stop"]'), "calls.fan names load stop, which does not exist."),
    (call("fan", 'may = ["fan"]'), "calls.fan names load fan, which does not exist."),
    (SMALL + '[air]\non = ["fan"]', "air names load fan, which does not exist."),
    (SMALL + '[zones.2.fan]\non = ["fan"]', "zones.2.fan names load fan, which does not exist."),
    (SMALL + '[conditions.defrost]\nduring = "heat 1"\nacts = ["coil"]', "condition defrost names switch coil, which does not exist."),
    (SMALL + '[conditions.defrost]\nduring = "heat 1"\nacts = ["stop"]\non = ["x"]', "condition defrost names load x, which does not exist."),
    (SMALL + '[[never]]\non = "coil"\nwithout = "fan"\nwhy = "it is so"', "never names load fan, which does not exist."),
)  # fmt: skip


@pytest.mark.parametrize(("text", "says"), NAMED, ids=[says for _, says in NAMED])
def test_a_name_that_nothing_bears_is_told_with_who_uses_it(text: str, says: str) -> None:
    """A terminal, load or switch that does not exist is named, with the entry that names it."""
    [(file, _, message)] = faults_of(text)
    assert file == "bell.toml"
    assert says in message


@pytest.mark.parametrize(
    ("text", "where"),
    [
        (call("heat 9", 'on = ["coil"]'), "calls.heat 9"),
        (SMALL + '[zones.one.fan]\non = ["coil"]', "zones.one"),
        (SMALL + '[zones.1.warm]\non = ["coil"]', "zones.1.warm"),
        (SMALL + '[[sequence.warm]]\nafter_s = 0\nwhat = "x"', "sequence.warm"),
        (SMALL + '[conditions.defrost]\nduring = "warm"\nacts = ["stop"]', "conditions.defrost.during"),
        (SMALL + '[conditions.defrost]\nduring = "heat 1"\nacts = []', "conditions.defrost.acts"),
    ],
)
def test_a_call_or_zone_that_is_not_known_is_named(text: str, where: str) -> None:
    """Calls are a closed list and zones are numbers; anything else is refused at its place."""
    [(file, field, message)] = faults_of(text)
    assert file == "bell.toml"
    assert field.startswith(where)
    assert message


def test_every_fault_of_a_file_is_told_at_once() -> None:
    """Three wrong fields are three faults, in the file's order."""
    text = SMALL.replace('title = "A bell"\n', "").replace("va = 3", "va = -3").replace('acts_when = "pressed"', "")
    assert [where for _, where, _ in faults_of(text)] == ["title", "part.0.load.va", "part.1.switch.acts_when"]


@pytest.fixture
def folder(tmp_path: Path) -> Callable[..., Path]:
    """Return a maker of folders that hold the files given as text."""

    def make(name: str = "mine", **files: str) -> Path:
        made = tmp_path / name
        made.mkdir()
        for stem, text in files.items():
            (made / f"{stem}.toml").write_text(text, encoding="utf-8")
        return made

    return make


def test_a_users_kind_joins_the_built_in_ones(folder: Callable[..., Path]) -> None:
    """A folder of one's own adds to the catalogue and takes nothing away."""
    kinds = load_catalog([folder(bell=SMALL)])
    assert kinds.keys() == KINDS.keys() | {"bell"}
    assert "bell" not in load_catalog()


def test_a_users_kind_replaces_the_built_in_one_of_its_name(folder: Callable[..., Path]) -> None:
    """The last folder has the last word; the built-in catalogue itself stays as it was."""
    ours = SMALL.replace('kind = "bell"', 'kind = "air-handler"')
    first, last = folder("first", mine=ours), folder("last", mine=ours.replace("A bell", "A louder bell"))
    assert load_catalog([first])["air-handler"].title == "A bell"
    assert load_catalog([first, last])["air-handler"].title == "A louder bell"
    assert load_catalog()["air-handler"].title == KINDS["air-handler"].title != "A bell"


def test_faults_of_all_files_and_folders_are_told_together(folder: Callable[..., Path], tmp_path: Path) -> None:
    """A folder that is not there and two faulty files give three faults, each with its path; the sound file none."""
    mine = folder(good=SMALL, broken="kind = [", wrong=SMALL.replace("va = 3", "va = 0"))
    with pytest.raises(InputError) as caught:
        load_catalog([tmp_path / "nowhere", mine])
    told = {fault.file: (fault.where, fault.message) for fault in caught.value.faults}
    assert told.keys() == {str(tmp_path / "nowhere"), str(mine / "broken.toml"), str(mine / "wrong.toml")}
    assert "no such folder" in told[str(tmp_path / "nowhere")][1]
    assert told[str(mine / "wrong.toml")][0] == "part.0.load.va"


def test_what_is_not_a_toml_file_is_left_alone(folder: Callable[..., Path]) -> None:
    """Notes beside the kinds do no harm, and an empty folder changes nothing."""
    mine = folder()
    (mine / "notes.txt").write_text("kind = [", encoding="utf-8")
    assert load_catalog([mine]) == KINDS


def test_every_call_is_answered_by_some_kind() -> None:
    """No call of the list is a dead letter: a kind answers it, or its heat stages do so in another part."""
    answered = {word for kind in KINDS.values() for word in kind.calls}
    for word in CALLS:
        stage = word.rpartition(" ")[2]
        assert word in answered or f"heat {stage}" in answered


def test_values_left_out_have_the_defaults_of_the_model() -> None:
    """A load says only what is special of it: the rest is unity power factor, 24 V, in at 85 % and out at 40 %."""
    coil = read_kind(SMALL.encode(), "bell.toml").part("coil")
    assert isinstance(coil, LoadPart)
    assert (coil.pf, coil.volts, coil.pull_in, coil.drop_out, coil.delay_s) == (1.0, 24.0, 0.85, 0.4, 0.0)
    assert (coil.va_inrush, coil.pf_inrush, coil.neutral) == (None, None, False)
