"""Kills the writing of an output folder at many moments and looks at what is left each time.

    python tests/bench/kill_writer.py                  2000 kills at random moments
    python tests/bench/kill_writer.py --every-step     one kill before each step on the disk

In one run of five a file is held by another program, so that the change is taken back.

After each kill every file has to be a whole one of one plan or the other, and either all are of one
plan or the note says that two are mixed. After the next run all are of one plan, the user's things
stand as they stood, and nothing is left beside the folder. Needs a system that can fork.
"""

from __future__ import annotations

import argparse
import hashlib
import mmap
import os
import random
import shutil
import signal
import stat
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from chainplan.errors import InputError
from chainplan.writing import change, folder, fresh_folder, mend_folder
from chainplan.writing.listing import LIST_NAME, digest_of, read_listing

STEPS = {
    "os.rename",
    "os.link",
    "os.mkdir",
    "os.rmdir",
    "os.remove",
    "os.chmod",
    "os.chown",
    "open",
}
"""What the system's calls that change a disk are announced as."""
MEND_EVERY = 0.5
EDIT_EVERY = 0.2
MOST_EDITED = 3
HELD_EVERY = 0.2


def files_of(generation: int) -> dict[str, bytes]:
    """Return the files of one plan; some names and folders come and go between plans."""
    chance = random.Random(generation)
    names = ["plan.json", "plan.xlsx", "rings.csv", "charts/cost.svg", "charts/heat.svg"]
    names += [f"weld-order/page-{n}.svg" for n in range(chance.randint(0, 6))]
    names += ["extra/deep/list.csv"] if chance.random() < 0.5 else []
    head = f"plan {generation}\n".encode()
    return {
        name: head + name.encode() + chance.randbytes(chance.randint(0, 3000)) for name in names
    }


def add_things(target: Path) -> None:
    """Put the kinds of things into the folder that a user may have there."""
    elsewhere = target.parent / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "photo.jpg").write_bytes(b"a photo")
    (target / "notes.txt").write_bytes(b"my notes")
    (target / "empty").mkdir(mode=0o711)
    (target / "charts" / "mine").mkdir()
    (target / "photos").symlink_to(elsewhere, target_is_directory=True)
    (target / "photo.jpg").symlink_to(elsewhere / "photo.jpg")
    (target / "broken").symlink_to("nowhere")
    os.mkfifo(target / "pipe", 0o620)
    (target / "second.txt").hardlink_to(target / "notes.txt")
    target.chmod(0o2770)


def things_in(target: Path) -> dict[str, tuple[object, ...]]:
    """Describe everything of the user's, and the folder itself, so that any change shows."""
    names = [".", "notes.txt", "empty", "charts/mine", "photos", "photo.jpg", "broken", "pipe"]
    found: dict[str, tuple[object, ...]] = {}
    for name in [*names, "second.txt"]:
        path = target / name
        state = path.lstat()
        link = str(path.readlink()) if path.is_symlink() else ""
        content = path.read_bytes() if stat.S_ISREG(state.st_mode) else b""
        found[name] = (state.st_ino, state.st_mode, state.st_uid, state.st_gid, link, content)
    return found


class Trial:
    """One folder that is written, killed and mended over and over."""

    def __init__(self, root: Path, seed: int) -> None:
        self.target = root / "job"
        self.chance = random.Random(seed)
        self.shared = mmap.mmap(-1, 1)
        self.generation = 0
        self.told = Counter[str]()
        write(self.target, 0)
        add_things(self.target)
        self.things = things_in(self.target)
        self.whole = 0
        self.tried: list[int] = []
        self.edits: list[bytes] = []
        self.edited: set[str] = set()

    def kill_once(self, how: str, *, step: int = 0, held: str = "") -> bool:
        """Start writing the next plan and kill it; False if it ended before.

        A file that is held cannot be replaced, so that the run takes its change back.
        """
        self.generation += 1
        self.tried.append(self.generation)
        self.shared[0] = 0
        child = os.fork()
        if child == 0:
            self._be_killed(how, step, held)
        if how == "any time":
            time.sleep(self.chance.uniform(0, 0.02))
        elif how == "in the change":
            while (
                not self.shared[0]
                and os.waitid(os.P_PID, child, os.WEXITED | os.WNOHANG | os.WNOWAIT) is None
            ):
                pass
            time.sleep(self.chance.uniform(0, 0.004))
        if how != "step":
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        if not os.WIFSIGNALED(status):
            if os.WEXITSTATUS(status):
                fail("a run ended with an error of its own")
            return False
        self.told["killed"] += 1
        self.told["killed in the change"] += self.shared[0] == 1
        return True

    def _be_killed(self, how: str, step: int, held: str) -> None:
        begin, leave = change.begin, change.forget
        work = str(self.target.parent)

        def begun(*args: object) -> None:
            self.shared[0] = 1
            begin(*args)

        def left(*args: object) -> None:
            leave(*args)
            self.shared[0] = 2

        def put(*args: object) -> None:
            if args[-1] == held:
                raise PermissionError(13, "held by another program")
            put_in_place(*args)

        put_in_place = change._put
        change.begin, change.forget, change._put = begun, left, put
        if how == "step":
            count = 0

            def hook(event: str, args: tuple[object, ...]) -> None:
                nonlocal count
                if event in STEPS and args and str(args[0]).startswith(work):
                    count += 1
                    if count == step:
                        os.kill(os.getpid(), signal.SIGKILL)

            sys.addaudithook(hook)
        try:
            write(self.target, self.generation)
        except InputError as error:
            os._exit(0 if held and held in str(error) else 1)
        except BaseException as error:
            print(f"{type(error).__name__}: {error}", file=sys.stderr)
            os._exit(1)
        os._exit(0)

    def look_after_kill(self) -> None:
        """Hold what a reader finds now against what was promised."""
        known = {0: files_of(self.whole), **{g: files_of(g) for g in self.tried}}
        for path in self.target.rglob("*"):
            name = path.relative_to(self.target).as_posix()
            if path.is_symlink() or not path.is_file() or name == LIST_NAME:
                continue
            allowed = [files[name] for files in known.values() if name in files] + self.edits
            if name not in (*self.things, change.NOTE_NAME) and path.read_bytes() not in allowed:
                fail(f"{name} is torn or of no plan")
        self.told["mixed, and said so"] += (self.target / change.NOTE_NAME).exists()
        if not (self.target / change.NOTE_NAME).exists():
            for name, digest in read_listing(self.target).items():
                if digest_of(self.target / name) != digest and name not in self.edited:
                    fail(f"{name} is not as listed, and no note says so")
        self._look_at_things()

    def mend(self) -> None:
        """Let the next run mend, and hold the folder against the plans that it may be."""
        mend_folder(self.target)
        listed = read_listing(self.target)
        for generation in [*reversed(self.tried), self.whole]:
            digests = {n: hashlib.sha256(c).hexdigest() for n, c in files_of(generation).items()}
            if listed == digests:
                break
        else:
            fail("the list is that of no single plan")
        if generation != self.whole:
            self.edited.clear()
        for name, digest in listed.items():
            if digest_of(self.target / name) != digest and name not in self.edited:
                fail(f"{name} is not as listed after mending")
        contents = [p.read_bytes() for p in self.target.rglob("*") if p.is_file()]
        if any(edit not in contents for edit in self.edits):
            fail("something that the user changed is lost")
        self.told["ended with the new plan" if generation != self.whole else "old plan kept"] += 1
        self.whole, self.tried = generation, []
        self._look_at_things()
        if (self.target / change.NOTE_NAME).exists():
            fail("the note stays after mending")
        if self.chance.random() < EDIT_EVERY and len(self.edited) < MOST_EDITED:
            self._edit()

    def _edit(self) -> None:
        name = self.chance.choice(sorted(set(files_of(self.whole)) - self.edited))
        text = f"mine {len(self.edits)}".encode()
        (self.target / name).write_bytes(text)
        self.edits.append(text)
        self.edited.add(name)

    def _look_at_things(self) -> None:
        if things_in(self.target) != self.things:
            fail("something of the user's has changed")

    def finish(self) -> None:
        """Write once without a kill: nothing of ours may be left beside the folder."""
        self.generation += 1
        self.tried.append(self.generation)
        write(self.target, self.generation)
        self.mend()
        left = sorted(path.name for path in self.target.parent.iterdir())
        if left != ["elsewhere", "job"]:
            fail(f"left beside the folder: {left}")


def write(target: Path, generation: int) -> None:
    """Write one plan."""
    with fresh_folder(target) as new:
        for name, content in files_of(generation).items():
            (new / name).parent.mkdir(parents=True, exist_ok=True)
            (new / name).write_bytes(content)


def fail(why: str) -> None:
    """End with status 1."""
    print(f"FAILED: {why}")
    sys.exit(1)


def kill_at_random(trial: Trial, kills: int) -> None:
    """Kill at random moments, two thirds of them aimed at the change of the files."""
    while trial.told["killed"] < kills:
        how = trial.chance.choice(("any time", "in the change", "step"))
        held = "rings.csv" if trial.chance.random() < HELD_EVERY else ""
        if trial.kill_once(how, step=trial.chance.randint(1, 90), held=held):
            trial.look_after_kill()
            trial.told[f"killed: {how}"] += 1
        if trial.chance.random() < MEND_EVERY or len(trial.tried) > 4:
            trial.mend()
    trial.finish()


def kill_at_every_step(trial: Trial) -> None:
    """Kill before the first step on the disk, the second, and so on until a run gets through."""
    for kind, held in (("steps of a change", ""), ("steps of one taken back", "rings.csv")):
        step = 1
        while trial.kill_once("step", step=step, held=held):
            trial.look_after_kill()
            trial.mend()
            step += 1
        trial.mend()
        trial.told[kind] = step - 1
    trial.finish()


def main() -> None:
    """Print a table of what was killed and what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=2000)
    parser.add_argument("--every-step", action="store_true")
    parser.add_argument("--seed", type=int, default=0)
    args = parser.parse_args()
    folder.sync_tree = folder.sync_folder = lambda *_: None
    change.sync_file = change.sync_folder = lambda *_: None
    root = Path(tempfile.mkdtemp())
    try:
        trial = Trial(root, args.seed)
        started = time.perf_counter()
        if args.every_step:
            kill_at_every_step(trial)
        else:
            kill_at_random(trial, args.kills)
        trial.told["seconds"] = round(time.perf_counter() - started)
    finally:
        shutil.rmtree(root)
    for name, count in trial.told.items():
        print(f"{name:<28} {count:>6}")


if __name__ == "__main__":
    main()
