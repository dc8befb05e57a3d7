"""The service under a running systemd: run by .ci/booted inside the Debian that it has booted, as root.

    python3 booted.py [FIRST]      FIRST: a word of the first step to try, to leave out those before it

Installs from the folder of wheels, presses the button through a terminal, kills and hangs the service, updates, lets
updates fail in four ways, rolls back, uninstalls, installs again, and switches off by a long hold, which ends the
machine. Each step is tried for real and printed; the first that fails ends it with status 1. Only Python's own library.
"""

from __future__ import annotations

import hashlib
import os
import random
import signal
import struct
import sys
import time
import wave
from collections.abc import Callable
from pathlib import Path

from booted_deck import (
    CURRENT,
    RECORD,
    WHEELS,
    Deck,
    changed,
    install,
    is_running,
    kinds,
    release,
    replace,
    run,
    shown,
    wait_for,
)

SETTINGS = Path("/etc/kitcall.env")
STICK, PLUGGED = Path("/srv/stick"), Path("/media/kitcall")  # a disk of its own, and where a stick appears
WATCHDOG_S = 180


def is_fit(how: Callable[[], str]) -> str:
    """After that, the service runs and every part of its self-test is fit; gives the table."""
    since = f"--since=@{time.time():.0f}"
    told = how()
    assert is_running(), told
    look = ("journalctl", "--namespace", "kitcall", "--no-pager", "-o", "cat", since)
    wait_for(lambda: "speaker" in run(*look), "the self-test in kitcall's log", 60)
    table = run(*look)
    assert "NOT FIT" not in table, table
    return table


def installs(deck: Deck) -> str:
    deck.plug_in()
    PLUGGED.mkdir(parents=True, exist_ok=True)
    deck.join_to_service()
    SETTINGS.write_text("KITCALL_MICROPHONE=mic\nKITCALL_SPEAKER=deck\n")
    table = is_fit(install)
    assert ("mic: noise" in table, "deck: three tones" in table) == (True, True), table
    assert shown("User") == "kitcall"
    assert run("stat", "-c", "%U %a", RECORD.parent).strip() == "kitcall 750"
    lines = Path(f"/proc/{shown('MainPID')}/status").read_text().splitlines()
    return f"ready; {shown('NRestarts')} restarts; " + " ".join(next(x for x in lines if x.startswith("VmRSS")).split())


def is_shut_in(deck: Deck) -> str:
    """Looked at from inside its own name spaces, as its own user."""
    pid = shown("MainPID")
    cards = [line.split(":")[0].strip() for line in Path(f"/proc/{pid}/net/dev").read_text().splitlines()[2:]]
    assert cards == ["lo"], cards
    status = dict(line.split(":\t") for line in Path(f"/proc/{pid}/status").read_text().splitlines() if ":\t" in line)
    assert int(status["CapEff"], 16) == int(status["CapBnd"], 16) == 0, status
    assert (status["NoNewPrivs"], status["Seccomp"]) == ("1", "2")
    inside = ("nsenter", "-t", pid, "-m", "setpriv", "--reuid=kitcall", "--regid=kitcall", "--clear-groups")
    for place in ("/opt/kitcall/x", "/etc/x", "/home/x", "/usr/x"):
        assert "written" not in run(*inside, "sh", "-c", f"echo x >{place} && echo written", check=False), place
    run(*inside, "sh", "-c", f"echo x >{RECORD.parent}/x && rm {RECORD.parent}/x")
    return "no network, no rights, writes nowhere but its data"


def saves_to_a_stick(deck: Deck) -> str:
    """None, though its place is there from before; one plugged in while the service runs, as udev's rule mounts it;
    one that is there before the service starts. The button is held before a check."""
    deck.press("h")
    time.sleep(20)
    assert not list(PLUGGED.iterdir()), "a copy on the box's own disk passed for one on a stick"
    run("mount", "--bind", STICK, PLUGGED)
    deck.press_until("h", lambda: len(copies()) > 0, "a copy on the stick")
    run("umount", PLUGGED)
    had = len(copies())
    run("mount", "--bind", STICK, PLUGGED)
    run("systemctl", "restart", "kitcall.service")
    deck.press_until("h", lambda: len(copies()) > had, "a second copy on the stick")
    run("umount", PLUGGED)
    return last(run(CURRENT / "bin/kitcall", "log", "verify", "--store", str(copies()[0]).removesuffix(".sha256")))


def copies() -> list[Path]:
    """The sums of the copies on the stick, which are written last."""
    return sorted(STICK.glob("kitcall/*.db.sha256"))


def leads(deck: Deck) -> str:
    begin(deck)
    deck.press_until("h", lambda: "paused" in kinds(), "the wait")
    return f"{len(kinds())} events"


def begin(deck: Deck, had: int | None = None) -> None:
    """A check begins, or goes on, after the first `had` events; without it, after those that are there now."""
    had = len(kinds()) if had is None else had
    begun = {"check_started", "continued"}
    deck.press_until("p", lambda: bool(begun & set(kinds()[had:])), "the check to begin")


def shares(deck: Deck) -> str:
    """The other service, beside the one that leads: the shop's machine pulls a copy."""
    run("systemctl", "start", "kitcall-share.service")
    Path("/try/secret").write_text(run("kitcall", "share", "--secret"))
    fetch = (CURRENT / "bin/kitcall", "fetch", "127.0.0.1", "--secret-file", "/try/secret", "--to", "/try/shop")
    wait_for(lambda: "whole, and each event" in run(*fetch, check=False), "a copy")
    copy = next(Path("/try/shop").glob("*.db"))
    run("systemctl", "stop", "kitcall-share.service")
    return last(run(CURRENT / "bin/kitcall", "log", "verify", "--store", copy))


def killed_and_back(deck: Deck) -> str:
    pid, had = shown("MainPID"), len(kinds())
    os.kill(int(pid), signal.SIGKILL)
    after_s = wait_for(lambda: is_running() and shown("MainPID") != pid, "the service to be back")
    begin(deck, had)
    assert "continued" in kinds()[had:], kinds()[had:]
    return f"ready again after {after_s:.0f} s, and the check went on"


def hung_and_back(deck: Deck) -> str:
    pid, restarts = shown("MainPID"), int(shown("NRestarts"))
    os.kill(int(pid), signal.SIGSTOP)
    gone_s = wait_for(lambda: int(shown("NRestarts")) > restarts, "the watchdog", 2.5 * WATCHDOG_S)
    back_s = wait_for(is_running, "the service to be back")
    log = run("journalctl", "-u", "kitcall.service", "--no-pager", "-o", "cat")
    assert "Watchdog timeout" in log, log[-2000:]
    return f"killed and started again after {gone_s:.0f} s, ready {back_s:.0f} s later"


def updates(deck: Deck) -> str:
    before, pid = release(), shown("MainPID")
    told = install()
    assert is_running(), told
    assert (release() != before, shown("MainPID") != pid) == (True, True), told
    assert list((RECORD.parent / "before-update").glob("*.db")), "no copy of the record"
    return f"{before} to {release()}"


def is_as_before(told: str, before: str, pid: str = "") -> None:
    assert (is_running(), release()) == (True, before), told
    assert not pid or shown("MainPID") == pid, "it was restarted"
    assert len(list(CURRENT.parent.joinpath("releases").iterdir())) == 2, "the failed release was left there"


def update_arrives_damaged(deck: Deck) -> str:
    before, pid = release(), shown("MainPID")
    folder = changed("damaged", lambda f: replace(f / "model/conf/mfcc.conf", "x"), sums=False)
    is_as_before(told := install(folder), before, pid)
    assert "damaged. Copy the folder again" in told, told
    return last(told)


def update_is_unfit(deck: Deck) -> str:
    before, pid = release(), shown("MainPID")
    folder = changed("unfit", lambda f: replace(f / "model/ivector/splice.conf", "x"))
    is_as_before(told := install(folder), before, pid)
    assert "not fit" in told or "does not run" in told, told
    return last(told)


def update_lacks_a_wheel(deck: Deck) -> str:
    before, pid = release(), shown("MainPID")
    folder = changed("short", lambda f: next(f.glob("numpy-*.whl")).unlink())
    is_as_before(told := install(folder), before, pid)
    assert "could not be built" in told, told
    return last(told)


def update_does_not_start(deck: Deck) -> str:
    """Its unit has a condition that a good release has not: an environment in which nothing starts."""
    before, unit = release(), Path("/etc/systemd/system/kitcall.service").read_text()
    bad = (WHEELS / "service/kitcall.service").read_text().replace("User=kitcall", "User=nobody-of-that-name")
    is_as_before(told := install(changed("stuck", lambda f: replace(f / "service/kitcall.service", bad))), before)
    assert "the old one runs on" in told, told
    assert Path("/etc/systemd/system/kitcall.service").read_text() == unit, "the failed release's unit was left"
    return last(told)


def rolls_back(deck: Deck) -> str:
    before = release()
    told = install(WHEELS, "rollback")
    assert is_running(), told
    assert release() != before, told
    return f"{before} to {release()}"


def keeps_its_record(deck: Deck) -> str:
    assert "audio" in run("id", "-nG", "kitcall")
    return last(run("kitcall", "log", "verify"))  # by hand, as the keeper does


PIPEWIRE = """
context.objects = [ { factory = adapter args = { factory.name = support.null-audio-sink node.name = deck
    media.class = Audio/Sink audio.position = [ FL FR ] object.linger = true } } ]
context.modules = [ { name = libpipewire-module-loopback args = {
    capture.props = { target.object = deck stream.capture.sink = true }
    playback.props = { node.name = mic media.class = Audio/Source } } } ]
"""


def hears_with_pipewire(deck: Deck) -> str:
    """The same with PipeWire, which serves kitcall's own user: a speaker, and what it plays as a microphone."""
    Path("/etc/pipewire/pipewire.conf.d").mkdir(parents=True, exist_ok=True)
    Path("/etc/pipewire/pipewire.conf.d/deck.conf").write_text(PIPEWIRE)
    with wave.open("/try/hiss.wav", "wb") as file:
        file.setparams((1, 2, 16_000, 0, "NONE", ""))
        dice = random.Random(1)
        file.writeframes(struct.pack("<960000h", *(round(dice.gauss(0, 60)) for _ in range(960_000))))
    run("apt-get", "install", "-q", "-y", "--no-download", "pipewire-alsa")  # puts PulseAudio away
    deck.settings.clear()
    SETTINGS.unlink(missing_ok=True)  # the default ones
    deck.join_to_service()
    install(WHEELS, "install", "--sound", "pipewire")
    uid = run("id", "-u", "kitcall").strip()
    assert Path("/var/lib/systemd/linger/kitcall").exists()
    run("systemctl", "restart", f"user@{uid}.service")
    hiss = "while true; do pw-play --target deck /try/hiss.wav; sleep 0.1; done"
    whose = ("--uid=kitcall", f"--setenv=XDG_RUNTIME_DIR=/run/user/{uid}")
    run("systemd-run", "--collect", "--unit=hiss", *whose, "sh", "-c", hiss)
    is_fit(lambda: run("systemctl", "restart", "kitcall.service"))
    return "every part fit"


def uninstalls(deck: Deck) -> str:
    before = hashlib.sha256(RECORD.read_bytes()).hexdigest()
    told = install(WHEELS, "uninstall")
    assert not CURRENT.parent.exists(), told
    assert not is_running(), told
    assert not list(Path("/etc/systemd/system").glob("kitcall*.service")), "units are left"
    assert hashlib.sha256(RECORD.read_bytes()).hexdigest() == before
    return last(told)


def switches_off(deck: Deck) -> str:
    had = len(kinds())
    is_fit(lambda: install(WHEELS, "install", "--sound", "pipewire"))
    begin(deck, had)  # the check that was left goes on by itself, maybe before anybody presses
    deck.press("s")  # and the terminal stays until kitcall has closed its record: hung up, it would end at once
    state = ("systemctl", "is-system-running")  # the machine may well take this process down before it is told
    wait_for(lambda: run(*state, check=False).strip() == "stopping", "the machine to go down")
    return "the button is held long; now the machine must go down"  # which .ci/booted sees


STEPS = (
    installs, is_shut_in, saves_to_a_stick, leads, shares, killed_and_back, hung_and_back, updates,
    update_arrives_damaged, update_is_unfit, update_lacks_a_wheel, update_does_not_start, rolls_back,
    keeps_its_record, hears_with_pipewire, uninstalls, switches_off,
)  # fmt: skip


def last(told: str) -> str:
    return told.strip().splitlines()[-1][:200]


def main() -> int:
    first, deck = (sys.argv[1:] or [""])[0], Deck()
    names = [step.__name__ for step in STEPS]
    for step in STEPS[next(place for place, name in enumerate(names) if first in name) :]:
        begun_s = time.monotonic()
        try:
            found = step(deck)
        except AssertionError as problem:
            print(f"FAILED  {step.__name__.replace('_', ' ')}: {problem}", flush=True)
            return 1
        print(f"held    {step.__name__.replace('_', ' ')} ({time.monotonic() - begun_s:.0f} s): {found}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
