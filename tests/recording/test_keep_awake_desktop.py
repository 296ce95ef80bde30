"""A desktop is really asked, over a real message bus: a stand-in of the power manager notes what it hears."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys

import pytest

pytestmark = pytest.mark.skipif(
    shutil.which("dbus-run-session") is None, reason="there is no message bus here"
)

DESKTOP = """
import json, threading
from jeepney import HeaderFields, MessageType, new_method_return
from jeepney.bus_messages import message_bus
from jeepney.io.blocking import open_dbus_connection
from logger.recording.watch.keep_awake import kept_awake

heard = []
desktop = open_dbus_connection("SESSION")
desktop.send_and_get_reply(message_bus.RequestName("org.freedesktop.PowerManagement"))

def answer():
    while True:
        call = desktop.receive()
        if call.header.message_type is not MessageType.method_call:
            continue
        member = call.header.fields[HeaderFields.member]
        heard.append([member, list(call.body)])
        if member == "Inhibit":
            desktop.send(new_method_return(call, "u", (7,)))
        else:
            desktop.send(new_method_return(call))

threading.Thread(target=answer, daemon=True).start()
told = []
with kept_awake(told.append):
    during = list(heard)
print(json.dumps({"during": during, "after": heard[len(during):], "told": told}))
"""


def test_a_desktop_is_asked_to_stay_awake_and_released_afterwards():
    done = subprocess.run(
        ["dbus-run-session", "--", sys.executable, "-c", DESKTOP], capture_output=True, text=True, timeout=20
    )
    assert done.returncode == 0, done.stderr
    heard = json.loads(done.stdout)
    assert [member for member, _ in heard["during"]] == ["Inhibit"]
    assert heard["after"] == [["UnInhibit", [7]]]
    assert heard["told"] == []
