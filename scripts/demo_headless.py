"""The whole job without a screen: simulated port -> settled -> reading at a spot -> visit log -> CSV files."""

from __future__ import annotations

import sys
import tempfile
import threading
import time
from pathlib import Path

from logger.errors import StillvoltError
from logger.meter.port import PortSettings
from logger.recording.session import StopEvent, record
from logger.report.export.write_export import export
from logger.settling.events import State
from logger.simulation import register_simulated_port
from logger.visit import VisitLog

SCENE = Path(__file__).resolve().parent.parent / "fixtures" / "scenes" / "first_minute.toml"
LONGEST_S = 60.0


def watch(log: VisitLog, stop: StopEvent, recorder: threading.Thread) -> None:
    """Say what the trace does, and take a reading each time the value settles at a new level."""
    armchair = log.spots.add("Armchair")
    conditions = ["lamp off", "everything on"]
    last_state = None
    until = time.monotonic() + LONGEST_S
    while conditions and time.monotonic() < until and recorder.is_alive():
        live = log.recorder.live()
        if live and live.state != last_state:
            last_state = live.state
            print(f"  {live.state.value}")
            wanted = len(log.readings.all())
            if live.state is State.SETTLED and wanted < 2:
                reading = log.readings.take(armchair.id, conditions.pop(0))
                print(
                    f"  taken: {reading.spot_name}, {reading.condition}: "
                    f"{reading.volts:.3f} V, u = {reading.u_volts:.3f} V"
                )
        time.sleep(0.05)
    stop.set()


def main() -> int:
    """Returns the exit code."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(tempfile.mkdtemp(prefix="stillvolt-"))
    folder.mkdir(parents=True, exist_ok=True)
    visit = folder / "first minute.visit"
    register_simulated_port()
    try:
        log = VisitLog.create(visit)
        stop = StopEvent()
        settings = PortSettings(url=f"sim://house?scene={SCENE}")
        recorder = threading.Thread(target=record, args=(visit, settings), kwargs={"stop": stop})
        recorder.start()
        watch(log, stop, recorder)
        recorder.join()
        files = export(visit, folder / "csv", ["csv"])
        readings = log.readings.all()
        log.close()
    except StillvoltError as error:
        print(f"stillvolt: {error}", file=sys.stderr)
        return 1
    print("The visit log:", visit, "The same as CSV files:", *files, sep="\n  ")
    return 0 if len(readings) == 2 else 1


if __name__ == "__main__":
    sys.exit(main())
