"""The real binary under test, in a folder of its own, and what it left there."""

import os
import re
import resource
import shutil
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo-spectra"
# Address space of a run, bytes: a run that needs more has no bounds.
MOST_MEMORY = 2 << 30
PATIENCE = 300
NOBODY = 65534


# A slow machine is told how far a run is.
PROGRESS = re.compile(r"^lees: \d+ of \d+ checked, about .+ left\n", re.M)


def told(err):
    """What a run said but for its progress."""
    return PROGRESS.sub("", err or "")


class Ran:
    def __init__(self, code, out, err):
        self.code, self.out, self.err = code, out, err


class Bench:
    """A folder with a few good spectra and the product; every run starts in it."""

    def __init__(self, folder, name):
        self.folder = folder / name
        self.folder.mkdir()
        self.folder.chmod(0o755)
        for path in sorted((ROOT / "examples/fractions").glob("*.jdx"))[:4]:
            shutil.copy(path, self.folder)
        shutil.copy(DEMO / "thiazolyl-coumarin.toml", self.folder / "dye.toml")
        # A copy that anybody may run.
        self.binary = folder / "lees"
        if not self.binary.exists():
            shutil.copy(os.environ["LEES_BIN"], self.binary)
            self.binary.chmod(0o755)
        self.good = self.names()

    def names(self):
        return sorted(os.listdir(self.folder))

    def path(self, name):
        return self.folder / name

    def begin(self, *args, file_size=None, powerless=False, **keywords):
        """Starts a run; `file_size` bounds what it may write to a file, `powerless` takes away the rights of root."""

        def bound():
            resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
            if file_size is not None:
                resource.setrlimit(resource.RLIMIT_FSIZE, (file_size, file_size))

        if powerless and os.geteuid() == 0:
            keywords |= {"user": NOBODY, "group": NOBODY, "extra_groups": []}
        keywords = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | keywords
        # Without restoring signals a write beyond the bound is an error, as on a full disk, instead of a signal.
        return subprocess.Popen(
            [self.binary, *map(str, args)], cwd=self.folder, text=True, preexec_fn=bound,
            restore_signals=file_size is None, **keywords,
        )

    def run(self, *args, **keywords):
        process = self.begin(*args, **keywords)
        out, err = process.communicate(timeout=PATIENCE)
        assert "panicked" not in err and process.returncode != 101, err
        return Ran(process.returncode, out or "", told(err))

    def fails(self, code, *args, says=(), left=None, **keywords):
        """Runs; it must end with `code`, say one line for each of `says`, and leave nothing new behind."""
        ran = self.run(*args, **keywords)
        assert ran.code == code, (ran.code, ran.err)
        lines = ran.err.splitlines()
        assert len(lines) == len(says), ran.err
        for line, words in zip(lines, says):
            assert line.startswith("lees: ") and words in line, (words, line)
        assert self.names() == sorted([*self.good, *(left or [])]), self.names()
        return ran

    def table(self, name="rows.csv", *args):
        """The table as an undisturbed run writes it."""
        ran = self.run("check", ".", "--product", "dye.toml", "-o", name, *args)
        assert ran.code == 0, ran.err
        data = self.path(name).read_bytes()
        self.path(name).unlink()
        return data
