"""A new visit is begun from an earlier one: home and equipment come along, nothing that was measured or of a day."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.metrology.checks import CheckKind
from logger.metrology.setup import Setup
from logger.plan.continued_plan import continue_home
from logger.visit import VisitLog
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.continued_home import ContinuedHome
from logger.visit.records.fact_names import CONTINUES_VISIT
from logger.visit.records.home_details import SourceDetails, SpotDetails
from logger.visit.records.practitioner import Practitioner
from logger.visit.storage.verification import verify
from tests.visit.test_photos import jpeg
from tests.visit.test_versions import load


@pytest.fixture
def before(tmp_path: Path) -> Path:
    path, clock = tmp_path / "before.visit", ManualClock()
    with closing(VisitLog.create(path, clock)) as log:
        gone, bed, desk = (log.spots.add(name, "Room", "lamp on").id for name in ("Gone", "Bed", "Desk"))
        log.spots.move(desk, -1)
        log.spots.remove(gone)
        lamp, gone_circuit = log.circuits.add("cord", "Lamp"), log.circuits.add("circuit", "Old")
        circuit = log.circuits.add("circuit", "Bedroom", two_pole=True)
        radio = log.circuits.add("cord", "Radio", gone_circuit.id)
        log.circuits.set_circuit(lamp.id, circuit.id)
        log.circuits.set_essential(radio.id, "as the household decided")
        log.circuits.remove(gone_circuit.id)
        log.source_details.set(circuit.id, SourceDetails("A", "7", poles="phase"))
        log.spot_details.set(
            bed, SpotDetails("lying", 0.5, "left", "lamp", "the owner", distances="2 m", plug_side="up")
        )
        log.spot_details.set(desk, SpotDetails(person="the owner"))
        photo = log.photos.add(bed, jpeg(), caption="from the door")
        log.photos.take_off(log.photos.add(bed, jpeg(9, 9)).id)
        log.photos.add(gone, jpeg(8, 8))
        assert photo.id == 1
        log.setup.set(
            Setup("Mill Lane", "earth rod", "clay", "wet", 12.0, 20.0, on_battery=True, link_isolated=True)
        )
        log.circumstances.set(Circumstances("socks", "cotton", "the owner", 1.0, weather="rain"))
        log.practitioner.set(Practitioner("A. Example"))
        log.readings.enter(bed, "everything on", 0.5, 0.01)
        log.checks.skip(CheckKind.ZERO, "no time")
        log.marks.add("kettle on")
    return path


def test_home_and_equipment_come_along_and_nothing_measured_or_of_the_day(
    before: Path, tmp_path: Path
) -> None:
    content, new = before.read_bytes(), tmp_path / "new.visit"
    clock = ManualClock()
    clock.advance_ns(86_400 * NS_PER_S)
    continue_home(before, new, clock)
    assert before.read_bytes() == content
    with closing(VisitLog.open(new, clock)) as log:
        desk, bed = log.spots.with_removed()
        assert [(s.name, s.room, s.reminder) for s in (desk, bed)] == [
            (n, "Room", "lamp on") for n in ("Desk", "Bed")
        ]
        assert log.spot_details.all() == {bed.id: SpotDetails("lying", 0.5, "left", distances="2 m")}
        (photo,) = log.photos.all().values()
        assert (photo.spot_id, photo.caption, photo.utc_ns) == (
            bed.id,
            "from the door",
            ManualClock().utc_ns(),
        )
        assert log.photos.picture(photo.id) == jpeg()
        sources = {source.name: source for source in log.circuits.all()}
        assert list(sources) == ["Lamp", "Bedroom", "Radio"] == [s.name for s in log.circuits.all()]
        assert sources["Lamp"].circuit_id == sources["Bedroom"].id and sources["Bedroom"].two_pole
        assert sources["Radio"].circuit_id is None and sources["Radio"].stays == "as the household decided"
        assert log.source_details.all() == {sources["Bedroom"].id: SourceDetails("A", "7", poles="phase")}
        assert log.setup.current() == Setup("Mill Lane", "earth rod", "clay", "", 12.0, 20.0)
        assert log.circumstances.current() == Circumstances(bedding="cotton", rod_length_m=1.0)
        assert log.practitioner.current().name == "A. Example"
        assert not (log.readings.all() or log.checks.all() or log.marks.all() or log.runs.all())
        assert log.facts.condition().condition == ""
        named = ContinuedHome.from_fact(log.facts.get(CONTINUES_VISIT))
        assert named == ContinuedHome("before.visit", None) and ContinuedHome.from_fact("[") is None
    assert verify(new).sound


def test_every_older_version_can_be_continued(tmp_path: Path) -> None:
    continue_home(load(1, tmp_path / "old.visit"), tmp_path / "new.visit")
    with closing(VisitLog.open(tmp_path / "new.visit")) as log:
        assert [spot.name for spot in log.spots.all()] == ["Bed, lying down", "Desk"]
        named = ContinuedHome.from_fact(log.facts.get(CONTINUES_VISIT))
        assert named is not None and named.started_utc_ns


def test_a_damaged_visit_or_a_taken_name_leaves_nothing(before: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.visit"
    damaged = tmp_path / "damaged.visit"
    damaged.write_bytes(before.read_bytes()[: 20 * 4096])
    with pytest.raises(StillvoltError):
        continue_home(damaged, new)
    assert not new.exists()
    new.write_bytes(b"another file")
    with pytest.raises(StillvoltError):
        continue_home(before, new)
    with pytest.raises(StillvoltError):
        continue_home(before, before)
    assert new.read_bytes() == b"another file" and verify(before).sound
