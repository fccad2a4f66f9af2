"""A whole machine, emulated: a kernel with simulated lines, Debian's systemd, and the service as it is installed.

The root is a copy of the kept one, and the guest's own: it is installed into from outside, as an image builder does,
and booted from there. One unit plays the scenes once the machine is up, leaves what came of them in `/srv/out`, and
switches the machine off.
"""

from __future__ import annotations

import shutil
import subprocess
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from booted.container import pack
from booted.debian_root import ROOT
from kernel.kernel_image import Kernel
from kernel.machine import EMULATOR, first_root

CLONE: Final = "/opt/treadle"
_MOST_SECONDS: Final = 1500
_INIT: Final = """\
#!/bin/busybox sh
/bin/busybox --install -s /bin
mount -t proc proc /proc; mount -t sysfs sysfs /sys; mount -t devtmpfs dev /dev
for module in {modules}; do insmod /modules/$module; done
mount -t 9p -o trans=virtio,version=9p2000.L,msize=262144,cache=loose host /host || poweroff -f
for folder in proc sys dev; do mount --move /$folder /host/$folder; done
exec switch_root /host /sbin/init
"""
_LINES: Final = """\
set -e
mountpoint -q /sys/kernel/config || mount -t configfs configfs /sys/kernel/config
pi=/sys/kernel/config/gpio-sim/pi
mkdir -p $pi/bank0; echo 54 >$pi/bank0/num_lines; echo pinctrl-bcm2835 >$pi/bank0/label; echo 1 >$pi/live
ln -sfn /sys/devices/platform/$(cat $pi/dev_name)/$(cat $pi/bank0/chip_name) /run/lines
echo pull-up >/run/lines/sim_gpio27/pull
chgrp gpio /dev/gpiochip*; chmod 660 /dev/gpiochip*
{ cat /proc/cpuinfo; printf 'Revision\\t: a02082\\n'; } >/run/cpuinfo
"""
"""A chip with a Pi's label, its contact open, and the revision that the pin library looks for."""
_UNITS: Final = {
    "lines.service": """\
[Unit]
DefaultDependencies=no
After=local-fs.target systemd-udevd.service
Before=treadle.service sysinit.target
[Service]
Type=oneshot
RemainAfterExit=yes
ExecStart=/bin/sh /srv/lines
[Install]
WantedBy=sysinit.target
""",
    "scenes.service": """\
[Service]
Type=exec
ExecStart=/usr/bin/python3 /srv/scenes.py /srv/out/results.json
ExecStopPost=/usr/bin/systemctl --no-block poweroff
StandardOutput=file:/srv/out/said
StandardError=inherit
[Install]
WantedBy=multi-user.target
""",
    "treadle.service.d/emulated.conf": """\
[Service]
BindReadOnlyPaths=-/run/cpuinfo:/proc/cpuinfo
TimeoutStartSec=300
""",
}
_WIRING: Final = "[lamp]\npin = 17\n\n[foot]\npin = 27\n\n[sounder]\npin = 18\n"


@dataclass(frozen=True, slots=True)
class Played:
    """What the scenes left, as text; empty where the machine did not get so far; and what was said."""

    results: str
    said: str
    console: str


def install(lower: Path, work: Path, lines: Path | None) -> Path:
    """Return a copy of a kept root, with the service installed in it as an image builder would, and the scenes.

    `lines` is a folder that holds the pin library, where pip has no wheel of it for this Debian.
    """
    root = work / "root"
    subprocess.run(["cp", "-a", str(lower), str(root)], check=True)
    (root / CLONE.lstrip("/")).mkdir(parents=True)
    subprocess.run(["tar", "-C", str(root / CLONE.lstrip("/")), "-xf", "-"], input=pack(ROOT), check=True)
    if lines is not None:
        shutil.copytree(lines, root / "usr/lib/python3/dist-packages", dirs_exist_ok=True)
        _pretend_package(root)
    # kept in memory: its mapped files are slow on a folder that is shared with the guest
    (root / "etc/systemd/journald.conf").write_text("[Journal]\nStorage=volatile\n")
    (root / "srv/out").mkdir()
    (root / "srv/lines").write_text(_LINES)
    shutil.copy(Path(__file__).with_name("guest_scenes.py"), root / "srv/scenes.py")
    (root / "etc/treadle").mkdir()
    (root / "etc/treadle/wiring.toml").write_text(_WIRING)
    inside = f"{CLONE}/hardware/service/install --lean && systemctl -q enable lines scenes"
    for name, text in _UNITS.items():
        place = root / "etc/systemd/system" / name
        place.parent.mkdir(exist_ok=True)
        place.write_text(text)
    done = subprocess.run(
        ["unshare", "--mount", "sh", "-c", f"mount -t proc proc {root}/proc; exec chroot {root} sh -c '{inside}'"],
        capture_output=True,
        text=True,
        check=False,
        env={"PATH": "/usr/sbin:/usr/bin:/sbin:/bin", "HOME": "/root"},
    )
    if done.returncode:
        raise AssertionError(f"installing into the image failed:\n{done.stderr}")
    return root


def _pretend_package(root: Path) -> None:
    """Have the package manager say that the pin library's package is installed, as it is on Raspberry Pi OS."""
    words = (
        "Package: python3-lgpio\nStatus: install ok installed\nVersion: 0.2.2\nArchitecture: amd64\nMaintainer: none\n"
    )
    with (root / "var/lib/dpkg/status").open("a") as status:
        status.write(f"\n{words}Description: stands in for the one of Raspberry Pi OS\n")


def boot(kernel: Kernel, root: Path, work: Path) -> Played:
    """Boot the root, let it play its scenes, and return what came of them."""
    initial, console = first_root(kernel, work / "first-root", _INIT), work / "console"
    command = [
        *("nice", "-n", "-5", EMULATOR, "-accel", "tcg,thread=multi", "-cpu", "max", "-smp", "2", "-m", "1024"),
        *("-nodefaults", "-no-user-config", "-nographic", "-monitor", "none", "-no-reboot"),
        *("-serial", f"file:{console}", "-kernel", str(kernel.image), "-initrd", str(initial)),
        *("-append", "console=ttyS0 quiet panic=-1 rdinit=/init mitigations=off systemd.show_status=1"),
        *("-fsdev", f"local,id=host,path={root},security_model=none"),
        *("-device", "virtio-9p-pci,fsdev=host,mount_tag=host"),
    ]
    with suppress(subprocess.TimeoutExpired):  # the results that are missing then tell
        subprocess.run(command, stdin=subprocess.DEVNULL, timeout=_MOST_SECONDS, check=True)
    out = root / "srv/out"
    texts = [path.read_text(errors="replace") if path.exists() else "" for path in (out / "results.json", out / "said")]
    return Played(*texts, console.read_text(errors="replace") if console.exists() else "")
