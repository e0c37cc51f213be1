"""The picture under a ground: drawn under the map, refused when it is none, told when it has another form."""

from __future__ import annotations

import io
import zlib
from pathlib import Path

import av
import numpy as np
import pytest

from rollsound.actions import ground_image
from rollsound.actions.ground_image import image_findings, image_of
from rollsound.actions.radio_read import read
from rollsound.actions.reach import reach, write_map
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.radio.model import Ground

PLAN = """\
radio:
  transmitters: [{id: a, name: Pack A, tuning: 470-542 MHz, frequency: 500 MHz, power: 10 mW}]
  receivers: [{id: rack, name: Rack, channels: 1, hears: [a]}]
  grounds:
    - id: deck
      width: 40 m
      depth: 20 m
      image: IMAGE
      antennas: [{id: a1, at: "0, 0 m"}]
      areas: [{id: rail, name: By the rail, outline: "2, 2; 6, 2; 6, 6 m"}]
"""


def encoded(codec: str, width_px: int, height_px: int, pixels: str) -> bytes:
    """A red picture of a real encoder."""
    frame = av.VideoFrame.from_ndarray(np.full((height_px, width_px, 3), (200, 0, 0), np.uint8), format="rgb24")
    file = io.BytesIO()
    with av.open(file, "w", format="image2pipe") as made:
        stream = made.add_stream(codec, rate=1)
        stream.width, stream.height, stream.pix_fmt = width_px, height_px, pixels
        made.mux(stream.encode(frame.reformat(format=pixels)))
        made.mux(stream.encode(None))
    return file.getvalue()


def png(width_px: int, height_px: int) -> bytes:
    return encoded("png", width_px, height_px, "rgb24")


def ground(image: str, width: str = "40 m") -> Ground:
    return Ground.model_validate({"id": "deck", "width": width, "depth": "20 m", "image": image})


@pytest.mark.parametrize(
    ("name", "codec", "pixels", "kind"),
    [
        ("a.png", "png", "rgb24", "image/png"),
        ("a.JPG", "mjpeg", "yuvj420p", "image/jpeg"),
        ("a.webp", "libwebp", "yuv420p", "image/webp"),
    ],
)
def test_size_and_kind_are_those_the_encoder_was_given(
    tmp_path: Path, name: str, codec: str, pixels: str, kind: str
) -> None:
    body = encoded(codec, 64, 32, pixels)
    (tmp_path / name).write_bytes(body)
    found = image_of(tmp_path, ground(name))
    assert found is not None
    assert (found.kind, found.width_px, found.height_px) == (kind, 64, 32)
    (tmp_path / name).write_bytes(body[: len(body) // 2])
    with pytest.raises(InputError, match="no whole"):
        image_of(tmp_path, ground(name))


def test_what_is_no_picture_is_refused_in_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "show"
    folder.mkdir()
    good = png(64, 32)
    (tmp_path / "out.png").write_bytes(good)
    (folder / "link.png").symlink_to(tmp_path / "out.png")
    (folder / "good.png").write_bytes(good)
    (folder / "as.jpg").write_bytes(good)
    (folder / "none.png").write_bytes(b"")
    (folder / "flipped.png").write_bytes(good[:50] + bytes([good[50] ^ 1]) + good[51:])
    for name in (
        "../out.png",
        "link.png",
        "as.jpg",
        "none.png",
        "flipped.png",
        "plan.svg",
        "no.png",
        "x" * 300 + ".png",
    ):
        with pytest.raises(InputError) as refused:
            image_of(folder, ground(name))
        assert "\n" not in refused.value.sentence
        assert "deck" in refused.value.sentence
    huge = b"IHDR" + (60_000).to_bytes(4, "big") * 2 + good[24:29]
    (folder / "huge.png").write_bytes(good[:12] + huge + zlib.crc32(huge).to_bytes(4, "big") + good[33:])
    with pytest.raises(InputError, match="60000 × 60000 pixels"):
        image_of(folder, ground("huge.png"))
    monkeypatch.setattr(ground_image, "LARGEST_BYTES", len(good) - 1)
    with pytest.raises(InputError, match="larger than"):
        image_of(folder, ground("good.png"))


@pytest.mark.parametrize(
    ("width", "weight"), [("40 m", Weight.FINE), ("43.9 m", Weight.FINE), ("44.1 m", Weight.WATCH)]
)
def test_more_than_a_tenth_out_of_form_is_told(tmp_path: Path, width: str, weight: Weight) -> None:
    (tmp_path / "deck.png").write_bytes(png(64, 32))
    (found,) = image_findings(tmp_path, (ground("deck.png", width),))
    assert (found.kind, found.weight) == ("image without scale", weight)
    assert found.refs[0].path == "plan#/radio/grounds/deck/image"


def test_a_map_is_drawn_over_its_picture_in_every_format(tmp_path: Path) -> None:
    (tmp_path / "deck.png").write_bytes(png(64, 32))
    sizes: dict[str, int] = {}
    for image in ("deck.png", '""'):
        plan = tmp_path / "plan.yaml"
        plan.write_text(PLAN.replace("IMAGE", image))
        reached = reach(read(plan, ask=False), "deck", points=(20, 10))
        assert not reached.result.findings
        for form in ("png", "svg", "pdf"):
            file = tmp_path / f"map {len(sizes)}.{form}"
            drawn = write_map(reached, file)
            assert drawn.result.notes == reached.result.notes
            sizes[f"{form} {image}"] = file.read_bytes().count(b"<image" if form == "svg" else b"/Image")
            if form == "png":
                with av.open(str(file)) as opened:
                    shown = next(opened.decode(video=0)).to_ndarray(format="rgb24").astype(int)
                sizes[f"red {image}"] = int((shown[..., 0] - shown[..., 2]).mean())
    assert sizes["svg deck.png"] == 1 > sizes['svg ""']
    assert sizes["pdf deck.png"] > sizes['pdf ""']
    assert sizes["red deck.png"] > sizes['red ""'] + 40  # the picture is red and the bands are blue


def test_a_map_comes_without_a_picture_that_is_none_or_cannot_be_drawn_into_it(tmp_path: Path) -> None:
    plan = tmp_path / "plan.yaml"
    plan.write_text(PLAN.replace("IMAGE", "deck.webp"))
    missing = reach(read(plan, ask=False), "deck", points=(20, 10))
    assert [each.kind for each in missing.result.findings] == ["ground picture"]
    assert write_map(missing, tmp_path / "a.svg").result.map_file
    (tmp_path / "deck.webp").write_bytes(encoded("libwebp", 64, 32, "yuv420p"))
    reached = reach(read(plan, ask=False), "deck", points=(20, 10))
    assert "<image" in (write_map(reached, tmp_path / "b.svg"), (tmp_path / "b.svg").read_text())[1]
    told = write_map(reached, tmp_path / "c.pdf").result.notes[-1]
    assert "c.pdf comes without the ground's picture" in told
    assert (tmp_path / "c.pdf").read_bytes().startswith(b"%PDF-")
