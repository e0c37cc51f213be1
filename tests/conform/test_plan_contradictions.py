"""A plan edited by hand: what contradicts the rest or the files is refused with its place, never passed over."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import takes

from rollsound.conform.agreeing import check_files
from rollsound.conform.model import CardPiece, ClockMap, Place
from rollsound.conform.plan import ConformPlan, Mode
from rollsound.conform.planning import make_plan
from rollsound.errors import InputError, MistakesError

FRAMES = 4800
Document = dict[str, Any]
Edit = Callable[[Document], object]


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> takes.Scene:
    """Two mono files and a card for the second track."""
    folder = tmp_path_factory.mktemp("scene")
    sound = np.random.default_rng(3).uniform(-0.1, 0.1, (FRAMES, 2))
    card = takes.Card(np.random.default_rng(4).uniform(-0.1, 0.1, 9000), 1200.25, 37.0, 1)
    return takes.scene(folder, sound, [card], mono=True)


def plan_of(scene: takes.Scene, mode: Mode = Mode.MIRROR) -> ConformPlan:
    return make_plan(scene.alignments, {"12A-3": scene.files}, mode, scene.files[0].parent.parent / "out")


def edited(scene: takes.Scene, edit: Edit, mode: Mode = Mode.MIRROR) -> str:
    document = json.loads(plan_of(scene, mode).to_json())
    edit(document)
    return json.dumps(document, indent=1)


def take(document: Document) -> Document:
    return document["takes"][0]  # type: ignore[no-any-return]


def track(document: Document) -> Document:
    return take(document)["tracks"][1]  # type: ignore[no-any-return]


def piece(document: Document) -> Document:
    return track(document)["pieces"][0]  # type: ignore[no-any-return]


@pytest.mark.parametrize("mode", list(Mode))
def test_what_planning_writes_is_read_and_fits_the_files(scene: takes.Scene, mode: Mode) -> None:
    plan = ConformPlan.from_json(edited(scene, lambda _: None, mode))
    assert plan == plan_of(scene, mode)
    check_files(plan, "plan.json")


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda d: track(d).update(offset_samples=1201.0), "offset_samples 1201.000, and card_positions"),
        (lambda d: track(d).update(rate_ppm=-37.0), "rate_ppm -37.000, and card_positions"),
        (lambda d: piece(d).update(card_positions=[1300.0, 6100.0]), "track 2 .Ilse. of 12A-3 states offset_samples"),
        (lambda d: piece(d).update(card_positions=[-5000.0, -200.0]), "lead from -5000.00 to"),
        (lambda d: piece(d).update(card_positions=[1200.0, 60_000.0]), "has samples 0 to 8999"),
        (lambda d: piece(d).update(card_rate_hz=44_100), "states rate_ppm"),
        (lambda d: piece(d).update(card_name="Card 9"), "card_name is 'Card 1' and a piece's is 'Card 9'"),
        (lambda d: piece(d).update(stop_sample=FRAMES + 1), "set stop_sample to that"),
        (lambda d: track(d).update(pieces=[piece(d), piece(d)]), "begins before the one above it ends"),
        (lambda d: track(d).update(action="mend"), "has the action mend in a take whose mode is mirror"),
        (lambda d: track(d).update(action="keep", gain_db=2.0), "gain_db is 2 where action is keep"),
        (lambda d: track(d).update(outcome="contradicts"), "outcome 'contradicts' says"),
        (lambda d: track(d).update(pieces=[]), "pieces of a card are needed"),
        (lambda d: d.update(mode="mend"), "the plan's mode is mend and that of 12A-3 is mirror"),
        (lambda d: take(d)["members"][1].update(first_track=0), "first_track of .* is 0; write 1"),
        (lambda d: take(d)["members"][1].update(output=""), "every file needs an output"),
        (lambda d: take(d)["members"][0].update(output="a\0b"), "output: is no name that a file can have"),
        (lambda d: d.update(takes=[]), "takes: has 0; 1 or more"),
        (lambda d: d.update(version=0), "version: is 0; it must be 1 or more"),
        (lambda d: track(d).update(gain_db=1e9), "gain_db: is 1000000000.0; it must be 1000"),
        (lambda d: take(d).update(fade_samples=10**30), "fade_samples: is .*; it must be"),
        (lambda d: track(d).update(colour="red"), "takes 1, tracks 2, colour: is not known here"),
    ],
)
def test_a_contradiction_is_refused_in_one_sentence(scene: takes.Scene, edit: Edit, words: str) -> None:
    with pytest.raises(MistakesError, match=words) as caught:
        ConformPlan.from_json(edited(scene, edit), "plan.json")
    assert all(each.line > 0 for each in caught.value.mistakes)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda d: track(d).update(place="source"), "the place source, which only a mirror can have"),
        (lambda d: take(d)["members"][0].update(output="x.wav"), "comparing writes no sound"),
    ],
)
def test_what_a_comparison_cannot_have(scene: takes.Scene, edit: Edit, words: str) -> None:
    with pytest.raises(MistakesError, match=words):
        ConformPlan.from_json(edited(scene, edit, Mode.COMPARE))


def test_every_mistake_of_a_take_is_told_with_its_line(scene: takes.Scene) -> None:
    def edit(document: Document) -> None:
        track(document).update(offset_samples=0.0, rate_ppm=0.0)
        take(document)["members"][1].update(first_track=7)

    with pytest.raises(MistakesError) as caught:
        ConformPlan.from_json(edited(scene, edit))
    assert len(caught.value.mistakes) == 3


def test_figures_left_out_or_rounded_as_shown_hold(scene: takes.Scene) -> None:
    text = edited(scene, lambda d: track(d).update(offset_samples=None, rate_ppm=37.0))
    assert ConformPlan.from_json(text).takes[0].tracks[1].offset_samples is None
    assert ConformPlan.from_json(edited(scene, lambda d: track(d).update(offset_samples=1200.25))).takes


def test_a_newer_plan_is_called_newer_whatever_it_holds() -> None:
    with pytest.raises(InputError, match="newer version"):
        ConformPlan.from_json('{"version": 99, "songs": []}')


@pytest.mark.parametrize("text", ["{}", '"nonsense"', "[]", "7", "null", '{"mode": "mirror", "takes": [1]}', "no", ""])
def test_what_is_no_plan_is_one_sentence_of_ours(text: str) -> None:
    with pytest.raises(InputError) as caught:
        ConformPlan.from_json(text, "plan.json")
    said = str(caught.value)
    assert said.startswith("plan.json ")
    for word in ("Input", "valid", "dictionary", "Field", "Expecting"):
        assert word not in said


def test_a_mend_of_a_card_placed_at_the_source_states_where_it_is_mended_from(scene: takes.Scene) -> None:
    """A mend stands on the radio track, so its positions are moved back; the offset that is told must be theirs."""
    found = scene.alignments[0]
    assert found.map is not None
    at_source = replace(
        found,
        place=Place.SOURCE,
        path_delay_samples=144.0,
        map=found.map.shifted(144.0),
        offset_samples=found.offset_samples + 144.0,
    )
    sources = {"12A-3": scene.files}
    mirror = make_plan([at_source], sources, Mode.MIRROR, "out").takes[0].tracks[1]
    mend = make_plan([at_source], sources, Mode.MEND, "out").takes[0].tracks[1]
    assert mirror.offset_samples == pytest.approx(1344.25, abs=1e-6)
    assert mend.offset_samples == pytest.approx(1200.25, abs=1e-6)
    assert mend.pieces[0].card_positions[0] == pytest.approx(1200.25, abs=1e-6)


def test_pieces_that_overlap_are_planned_one_after_the_other(scene: takes.Scene) -> None:
    found = scene.alignments[0]
    clock = ClockMap.straight(1200.25, 37.0, FRAMES)
    pieces = (
        CardPiece(found.card_path, 0, 0, 3000, clock),
        CardPiece(found.card_path, 0, 2500, FRAMES, clock.shifted(50.0)),
    )
    plan = make_plan([replace(found, pieces=pieces)], {"12A-3": scene.files}, Mode.MIRROR, "out")
    spans = [(each.start_sample, each.stop_sample) for each in plan.takes[0].tracks[1].pieces]
    assert spans == [(0, 3000), (3000, FRAMES)]


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda d: take(d).update(sample_rate_hz=48_048), "sample_rate_hz is 48048, and the recorder's file has 48000"),
        (lambda d: take(d).update(frames=FRAMES + 9), "frames is 4809"),
        (lambda d: take(d).update(start_samples=1), "start_samples is 1, "),
        (lambda d: take(d).update(time_rate="30"), "time_rate is 30, .* has 25"),
        (lambda d: take(d)["members"].reverse(), "belong in the order"),
        (lambda d: take(d)["members"][0].update(offset_samples=5), "offset_samples is 5"),
        (lambda d: take(d)["members"][0].update(frames=5), "frames is 5"),
        (lambda d: take(d)["tracks"][0].update(name="Ilse"), "name of track 1 is Ilse"),
        (lambda d: piece(d).update(card_frames=10_000), "card_frames of track 2 .Ilse. is 10000"),
        (lambda d: piece(d).update(channel=1), "has channels 0 to 0"),
    ],
)
def test_what_a_plan_says_of_a_file_must_be_so(scene: takes.Scene, edit: Edit, words: str) -> None:
    def consistent(document: Document) -> None:
        edit(document)
        first = 0
        for member in take(document)["members"]:
            member["first_track"] = first
            first += member["channels"]
        if take(document)["sample_rate_hz"] != 48_000:
            track(document)["rate_ppm"] = None

    plan = ConformPlan.from_json(edited(scene, consistent))
    with pytest.raises(MistakesError, match=words):
        check_files(plan, "plan.json")


def test_a_card_of_another_rate_than_stated_is_refused(scene: takes.Scene) -> None:
    def edit(document: Document) -> None:
        piece(document)["card_rate_hz"] = 44_100
        track(document)["rate_ppm"] = None

    with pytest.raises(MistakesError, match=r"card_rate_hz of track 2 .Ilse. is 44100"):
        check_files(ConformPlan.from_json(edited(scene, edit)), "plan.json")


def test_a_file_that_changed_or_a_frame_rate_that_is_none_is_refused(scene: takes.Scene) -> None:
    other = ConformPlan.from_json(edited(scene, lambda d: piece(d)["file"].update(bytes=7)))
    with pytest.raises(InputError, match="has changed since the plan was made"):
        check_files(other, "plan.json")
    wrong = ConformPlan.from_json(edited(scene, lambda d: take(d).update(time_rate="banana")))
    with pytest.raises(InputError, match="no frame rate"):
        check_files(wrong, "plan.json")
