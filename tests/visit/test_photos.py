"""Photos of spots: small, with nothing in them but the picture, never lost, and never shown where they are damaged."""

from __future__ import annotations

import io
import struct
import zlib
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFile

from logger.clock import ManualClock
from logger.errors import StillvoltError
from logger.visit import VisitLog, photo_file
from logger.visit.photo_file import TARGET_BYTES, kept_photo
from logger.visit.records.photo import MAX_PHOTO_BYTES, photo_problem, photo_size
from logger.visit.storage.content_limits import MAX_PHOTOS, MAX_ROWS, MAX_TABLE_BYTES
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import verify
from tests.support.without_triggers import without_triggers

ORIENTATION, MAKE, GPS = 0x0112, 0x010F, 0x8825
SECRET = "Telescope-Maker 47.123"


def jpeg(width: int = 40, height: int = 30, **options: object) -> bytes:
    content = io.BytesIO()
    Image.new("RGB", (width, height), "navy").save(content, "JPEG", **options)
    return content.getvalue()


def exif_of(orientation: int, secret: str = SECRET) -> Image.Exif:
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKE] = orientation, secret
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (47.0, 7.0, 23.0)
    exif.get_ifd(GPS)[29] = secret
    return exif


@given(
    size=st.tuples(st.integers(1, 90), st.integers(1, 90)),
    form=st.sampled_from(["JPEG", "PNG", "WEBP", "TIFF"]),
    mode=st.sampled_from(["RGB", "L", "RGBA", "P", "CMYK"]),
    orientation=st.integers(1, 8),
    secret=st.text(st.characters(codec="ascii", categories=["L", "N"]), min_size=12, max_size=40),
)
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_nothing_but_the_picture_is_kept(
    tmp_path: Path, size: tuple[int, int], form: str, mode: str, orientation: int, secret: str
) -> None:
    if (form, mode) in {("JPEG", "RGBA"), ("JPEG", "P"), ("PNG", "CMYK"), ("WEBP", "P"), ("WEBP", "CMYK")}:
        mode = "RGB"
    path = tmp_path / "sent.jpg"  # whatever its name says
    options = {"comment": secret} if form == "JPEG" else {}
    profile = b"\0" * 36 + b"acsp" + secret.encode()
    Image.new(mode, size).save(path, form, exif=exif_of(orientation, secret), icc_profile=profile, **options)
    assert secret.encode() in path.read_bytes() or form != "JPEG"
    kept = kept_photo(path)
    assert photo_problem(kept) == "" and secret.encode() not in kept and b"Exif" not in kept
    with Image.open(io.BytesIO(kept)) as read:
        assert read.format == "JPEG" and not read.getexif() and set(read.info) <= {
            "jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi",
        }  # fmt: skip
        turned = orientation >= 5
        assert read.size == (size[::-1] if turned else size) == photo_size(kept)


def test_a_photo_is_made_small_and_stands_upright(tmp_path: Path) -> None:
    picture = Image.effect_noise((1210, 600), 90).convert("RGB")
    picture.paste("white", (0, 0, 605, 600))
    picture.save(tmp_path / "a.jpg", quality=95, exif=exif_of(6))  # turned to the right by a quarter
    kept = kept_photo(tmp_path / "a.jpg")
    assert len(kept) < TARGET_BYTES
    with Image.open(io.BytesIO(kept)) as read:
        assert max(read.size) <= 1200 and read.height > read.width
        top = read.convert("L").crop((0, 0, read.width, 5))
        assert min(top.tobytes()) > 230, "what was left is above now"


def test_holes_are_white_and_a_scan_in_sixteen_bits_is_not_cut(tmp_path: Path) -> None:
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(tmp_path / "a.png")
    Image.new("I;16", (8, 8), 32_768).save(tmp_path / "b.png")
    for name, level in (("a.png", 255), ("b.png", 128)):
        with Image.open(io.BytesIO(kept_photo(tmp_path / name))) as read:
            assert read.getpixel((4, 4)) == pytest.approx((level,) * 3, abs=2)


def _png(width: int, height: int) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(bytes(999))) + chunk(b"IEND", b"")


HEIC = b"\0\0\0\x18ftypheic" + bytes(40)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"%PDF-1.7 and more of it", "is no picture"),
        (b"", "is no picture"),
        (b"GIF89a" + bytes(30), "is no picture"),
        (jpeg(400, 400, quality=95)[:700], "damaged picture"),
        (jpeg(400, 400)[:100] + b"\xff\xd9", "no picture|damaged picture"),
        (_png(60_000, 60_000), "pixels"),
        (_png(9000, 9000), "pixels"),
        (_png(50, 50), "damaged picture"),
        (HEIC, "no picture|damaged picture|HEIC"),
    ],
)
def test_what_is_no_photo_is_refused_in_a_sentence(
    tmp_path: Path, content: bytes, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)  # as the library that writes the PDF does
    path = tmp_path / "a.jpg"
    path.write_bytes(content)
    with pytest.raises(StillvoltError, match=words) as refused:
        kept_photo(path)
    assert "Nothing was added" in str(refused.value) and "\n" not in str(refused.value)


def test_a_file_that_cannot_be_read_or_is_too_large_is_refused_unread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for path, words in ((tmp_path, "is a folder"), (tmp_path / "no.jpg", "cannot be read")):
        with pytest.raises(StillvoltError, match=words):
            kept_photo(path)
    with (tmp_path / "large.jpg").open("wb") as file:
        file.truncate(50_000_001)
    with pytest.raises(StillvoltError, match="more than 50 MB"):
        kept_photo(tmp_path / "large.jpg")
    monkeypatch.setattr(photo_file, "_can_read_heic", lambda: False)
    (tmp_path / "a.heic").write_bytes(HEIC)
    with pytest.raises(StillvoltError, match="Save it as a JPEG"):
        kept_photo(tmp_path / "a.heic")


@given(at=st.integers(2, 600), byte=st.integers(0, 255), cut=st.integers(0, 600))
@settings(max_examples=50)
def test_whatever_bytes_a_stranger_calls_a_photo_are_judged_and_raise_nothing(
    at: int, byte: int, cut: int
) -> None:
    sound = jpeg()
    for content in (sound[:at] + bytes([byte]) + sound[at + 1 :], sound[:cut], sound[:at] + sound[cut:]):
        assert photo_problem(content, 40, 30) or photo_size(content) == (40, 30)


def test_a_photo_is_moved_taken_off_and_brought_back(tmp_path: Path) -> None:
    clock = ManualClock()
    with closing(VisitLog.create(tmp_path / "a.visit", clock)) as log:
        bed, desk = (log.spots.add(name).id for name in ("Bed", "Desk"))
        photo = log.photos.add(bed, jpeg(), caption=" from \n the door", entered_by="A. Example")
        assert (photo.width, photo.height, photo.caption) == (40, 30, "from the door")
        assert log.photos.of_spot(bed) == [photo] and log.photos.picture(photo.id) == jpeg()
        log.photos.move(photo.id, desk)
        log.photos.take_off(photo.id)
        log.photos.take_off(photo.id)
        assert log.photos.of_spot(bed) == log.photos.of_spot(desk) == []
        assert log.photos.all()[photo.id].spot_id is None
        log.photos.bring_back(photo.id)
        assert [p.id for p in log.photos.of_spot(desk)] == [photo.id]
        assert log._connection.one("SELECT count(*) FROM photo_place")[0] == 4
    assert verify(tmp_path / "a.visit").sound


def test_only_pictures_without_metadata_are_added_and_not_more_than_fit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with closing(VisitLog.create(tmp_path / "a.visit", ManualClock())) as log:
        bed = log.spots.add("Bed").id
        sound = jpeg()
        for content in (
            b"", b"x" * 50, sound[:-2], sound + b"more", jpeg(exif=exif_of(1)), jpeg(comment=b"x"),
            jpeg(progressive=True), jpeg(1300, 10), sound + bytes(MAX_PHOTO_BYTES), _png(3, 3),
        ):  # fmt: skip
            with pytest.raises(StillvoltError, match="Nothing was added"):
                log.photos.add(bed, content)
        with pytest.raises(StillvoltError, match="Caption"):
            log.photos.add(bed, sound, caption="x" * 201)
        monkeypatch.setattr("logger.visit.storage.photo_store.MAX_PHOTOS", 1)
        log.photos.add(bed, sound, "sketch")
        with pytest.raises(StillvoltError, match="has 1 photos"):
            log.photos.add(bed, sound)
        assert [photo.kind for photo in log.photos.all().values()] == ["sketch"]
    # As many as can be added, with the longest captions, leave a visit that opens.
    assert MAX_ROWS["photo"] >= MAX_PHOTOS
    assert MAX_PHOTOS * (MAX_PHOTO_BYTES + 3 * 200 * 4) <= MAX_TABLE_BYTES


@pytest.mark.parametrize("change", ["jpeg = x'ffd8ffd9'", "width = 41", "jpeg = zeroblob(130000)"])
def test_a_photo_that_is_none_is_told_and_neither_shown_nor_salvaged(tmp_path: Path, change: str) -> None:
    path = tmp_path / "a.visit"
    with closing(VisitLog.create(path, ManualClock())) as log:
        bed = log.spots.add("Bed").id
        log.photos.add(bed, jpeg())
        log.photos.add(bed, jpeg(20, 20))
    with without_triggers(path) as db:
        db.execute(f"UPDATE photo SET {change} WHERE id = 1")
    assert "photo 1" in " ".join(verify(path).problems)
    with closing(VisitLog.open(path)) as log:
        with pytest.raises(StillvoltError, match="Photo 1 cannot be shown"):
            log.photos.picture(1)
        assert log.photos.picture(2) == jpeg(20, 20)
    salvage(path, tmp_path / "new.visit")
    with closing(VisitLog.open(tmp_path / "new.visit")) as log:
        assert list(log.photos.all()) == [2] and log.photos.picture(2) == jpeg(20, 20)
        assert log.photos.of_spot(bed)
