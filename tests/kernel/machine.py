"""An emulated machine that runs one script on this machine's own tree, read-only, or on a slow card of its own.

The guest's root is the host's, shared read-only, so that the checkout, its virtual environment and its Python serve
as they are; with a `Card` it is what lies on that. `/run` is the guest's own; what a script leaves in `/run/out` comes
back. It is pure emulation: nothing of the host's kernel, GPIO or input devices can be touched from inside.
"""

from __future__ import annotations

import gzip
import shlex
import shutil
import subprocess
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from kernel.kernel_image import Kernel

EMULATOR: Final = "qemu-system-x86_64"
SHELL: Final = Path("/bin/busybox")
_PACKER: Final = "cpio"
_KERNEL_OPTIONS: Final = "console=ttyS0 quiet panic=-1 rdinit=/init mitigations=off"
"""Nothing runs in there that another process would have to be guarded against, and guarding costs a quarter."""
_NICENESS: Final = -10
"""Whatever else this machine does, a guest's hands and keepers shall be in time; where that is refused, not."""
_MOST_SECONDS: Final = 500

_INIT: Final = """\
#!/bin/busybox sh
/bin/busybox --install -s /bin
mount -t proc proc /proc; mount -t sysfs sysfs /sys; mount -t devtmpfs dev /dev
for module in {modules}; do insmod /modules/$module; done
MOUNT /host || poweroff -f
mount -t configfs configfs /sys/kernel/config; mount -t tracefs tracefs /sys/kernel/tracing
for folder in proc sys dev; do mount --move /$folder /host/$folder; done
mount -t tmpfs tmpfs /host/run; mkdir /host/run/out
mount -t 9p -o trans=virtio,version=9p2000.L,msize=262144 out /host/run/out
exec switch_root /host /bin/sh /run/out/script
"""
_OF_THE_HOST: Final = "mount -t 9p -o trans=virtio,version=9p2000.L,msize=262144,cache=loose,ro host"
_OF_A_CARD: Final = "mount -t ext4 -o noatime /dev/vda"
_SLOW: Final = "throttling.bps-write=12000000,throttling.bps-read=22000000"
_SLOW_OPERATIONS: Final = "throttling.iops-write=500,throttling.iops-read=1500"
"""A card of a few years: 12 MB/s written, 22 MB/s read, 500 writes and 1,500 reads a second."""
_SCRIPT: Final = """\
export PATH=/usr/local/bin:/usr/bin:/bin:/usr/sbin:/sbin HOME=/run TMPDIR=/run PYTHONDONTWRITEBYTECODE=1
mkdir -p /dev/shm && mount -t tmpfs tmpfs /dev/shm
ip link set lo up 2>/dev/null || busybox ip link set lo up
cd /run
{command} >/run/out/log 2>&1
echo $? >/run/out/status
sync
echo o >/proc/sysrq-trigger
while :; do :; done
"""


@dataclass(frozen=True, slots=True)
class Ended:
    """How the script ended: its exit status, None where the machine did not get so far; and all that was said."""

    status: int | None
    log: str
    console: str


@dataclass(frozen=True, slots=True)
class Card:
    """A slow card that holds the machine's whole root, and how much memory the machine has."""

    image: Path
    memory_mb: int = 1024


def missing() -> str:
    """Return what this machine lacks to emulate another, or nothing."""
    lacking = [name for name in (EMULATOR, _PACKER) if shutil.which(name) is None]
    if not SHELL.exists():
        lacking.append(str(SHELL))
    return ", ".join(lacking)


def boot(
    kernel: Kernel, command: list[str], out: Path, *, seconds: float = _MOST_SECONDS, card: Card | None = None
) -> Ended:
    """Boot, run the command inside, and switch off; `out` is the guest's `/run/out`."""
    out.mkdir(parents=True, exist_ok=True)
    (out / "script").write_text(_SCRIPT.format(command=shlex.join(command)))
    work = out.parent
    init = _INIT.replace("MOUNT", _OF_THE_HOST if card is None else _OF_A_CARD)
    modules = kernel.modules if card is None else (*kernel.modules, *kernel.disk)
    initial = first_root(replace(kernel, modules=modules), work / "first-root", init)
    console = work / "console"
    with suppress(subprocess.TimeoutExpired):  # the status that is missing then tells
        subprocess.run(
            _emulator(kernel, initial, out, console, card), stdin=subprocess.DEVNULL, timeout=seconds, check=True
        )
    log, status = out / "log", out / "status"
    return Ended(
        int(status.read_text()) if status.exists() else None,
        log.read_text(errors="replace") if log.exists() else "",
        console.read_text(errors="replace") if console.exists() else "",
    )


def _emulator(kernel: Kernel, initial: Path, out: Path, console: Path, card: Card | None) -> list[str]:
    if card is None:
        root = [
            *("-fsdev", "local,id=host,path=/,security_model=none,readonly=on,multidevs=remap"),
            *("-device", "virtio-9p-pci,fsdev=host,mount_tag=host"),
        ]
    else:
        drive = f"file={card.image},if=none,id=card,format=raw,{_SLOW},{_SLOW_OPERATIONS}"
        root = ["-drive", drive, "-device", "virtio-blk-pci,drive=card"]
    return [
        *("nice", "-n", str(_NICENESS), EMULATOR),
        *("-accel", "tcg,thread=multi", "-cpu", "max", "-smp", "2"),
        *("-m", "1024" if card is None else str(card.memory_mb)),
        *("-nodefaults", "-no-user-config", "-nographic", "-monitor", "none", "-no-reboot"),
        *("-serial", f"file:{console}", "-kernel", str(kernel.image), "-initrd", str(initial)),
        *("-append", _KERNEL_OPTIONS),
        *root,
        *("-fsdev", f"local,id=out,path={out},security_model=none"),
        *("-device", "virtio-9p-pci,fsdev=out,mount_tag=out"),
    ]


def first_root(kernel: Kernel, tree: Path, init_script: str) -> Path:
    """Make the small root that the kernel starts with: a shell, the modules, and the way to the real root."""
    for folder in ("bin", "modules", "proc", "sys", "dev", "host"):
        (tree / folder).mkdir(parents=True)
    shutil.copy(SHELL, tree / "bin")
    for module in kernel.modules:
        shutil.copy(module, tree / "modules")
    init = tree / "init"
    init.write_text(init_script.format(modules=" ".join(module.name for module in kernel.modules)))
    init.chmod(0o755)
    names = sorted(str(path.relative_to(tree)) for path in tree.rglob("*"))
    packed = subprocess.run(
        [_PACKER, "--quiet", "-o", "-H", "newc"],
        input="\n".join(names).encode(),
        cwd=tree,
        stdout=subprocess.PIPE,
        check=True,
    ).stdout
    shutil.rmtree(tree)
    archive = tree.with_suffix(".gz")
    archive.write_bytes(gzip.compress(packed, 1))
    return archive
