#!/usr/bin/env python3
"""mutants.py LETOFF-DECODE [SECONDS] - letoff-decode as a process, fed with damaged media files.

Files of every kind a phone sends are made with ffmpeg, then damaged: bytes changed, runs of bytes
repeated, cut out, overwritten with extreme values, lengths in headers blown up, ends cut off.
Whatever is in it, the child must end by itself within its limits, with one of its own statuses, no
more output than asked for, and no system call outside its list (that would be SIGSYS).  A crash of a
decoding library inside the child is contained by design and only counted, and is told with its seed.
"""
import os
import random
import signal
import subprocess
import sys
import tempfile
import time

KINDS = {
    "wav": ["-c:a", "pcm_s16le"], "mp3": [], "ogg": ["-c:a", "libvorbis"], "opus": ["-c:a", "libopus"], "flac": [],
    "m4a": ["-c:a", "aac"], "mp4": ["-c:a", "aac"], "mov": ["-c:a", "aac"], "webm": ["-c:a", "libopus"],
    "3gp": ["-c:a", "aac"], "aiff": [], "au": [], "mka": ["-c:a", "flac"], "avi": ["-c:a", "mp3"], "wma": [],
}
SECONDS_OUT, CPU_S, WALL_S = 4, 5, 30
OWN_STATUSES = (0, 1, 4)
CONTAINED = (signal.SIGSEGV, signal.SIGABRT, signal.SIGFPE, signal.SIGILL, signal.SIGBUS)
LIMITS = (signal.SIGXCPU, signal.SIGKILL, signal.SIGPIPE)


def make(folder):
    made = {}
    for kind, options in KINDS.items():
        path = os.path.join(folder, "sound." + kind)
        command = ["ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", "sine=frequency=700:duration=0.6:sample_rate=16000", "-ac", "1"]
        if subprocess.run(command + options + [path], stderr=subprocess.DEVNULL).returncode == 0:
            made[kind] = open(path, "rb").read()
    return made


def damage(data, rng):
    b = bytearray(data)
    for _ in range(rng.randint(1, 12)):
        at = rng.randrange(len(b)) if rng.random() < 0.5 else rng.randrange(min(len(b), 600))
        way = rng.randrange(6)
        if way == 0:
            b[at] = rng.randrange(256)
        elif way == 1:
            b[at:at + 4] = rng.choice([b"\xff\xff\xff\xff", b"\0\0\0\0", b"\x7f\xff\xff\xff", b"\x80\0\0\0", b"\xff\xff\xff\x7f"])
        elif way == 2:
            del b[at:at + rng.randrange(1, 200)]
        elif way == 3:
            b[at:at] = b[at:at + rng.randrange(1, 400)]
        elif way == 4:
            b[at:at] = bytes(rng.randrange(256) for _ in range(rng.randrange(1, 60)))
        elif len(b) > 200:
            del b[rng.randrange(100, len(b)):]
        if len(b) < 8:
            b += bytes(8)
    return bytes(b)


def judge(result, status):
    """None when the end was a proper one."""
    if len(result.stdout) > (SECONDS_OUT + 1) * 16000 * 4:
        return "it wrote %d bytes" % len(result.stdout)
    if status >= 0:
        return None if status in OWN_STATUSES else "it ended with status %d" % status
    if -status in CONTAINED or -status in LIMITS:
        return None
    return "it ended by signal %d" % -status


def main():
    decoder, seconds = sys.argv[1], float(sys.argv[2] if len(sys.argv) > 2 else os.environ.get("LETOFF_LONG_S", 4))
    seed0 = int(os.environ.get("LETOFF_SEED", "1"))
    with tempfile.TemporaryDirectory() as folder:
        whole = make(folder)
        if len(whole) < 8:
            sys.exit("ffmpeg made only %d of %d kinds of files" % (len(whole), len(KINDS)))
        kinds, tried, crashed, good, bad = sorted(whole), 0, 0, 0, 0
        end = time.monotonic() + seconds
        while time.monotonic() < end or tried < len(kinds):
            kind, rng = kinds[tried % len(kinds)], random.Random(seed0 * 1000003 + tried)
            data = damage(whole[kind], rng) if tried >= len(kinds) else whole[kind]
            path = os.path.join(folder, "mutant")
            with open(path, "wb") as f:
                f.write(data)
            try:
                result = subprocess.run([decoder, "--seconds", str(SECONDS_OUT), "--cpu", str(CPU_S), path], capture_output=True, timeout=WALL_S)
                wrong = judge(result, result.returncode)
                crashed += -result.returncode in CONTAINED
                good += result.returncode == 0
                if tried < len(kinds) and result.returncode != 0:
                    wrong = "the whole file was not decoded"
                if -result.returncode in CONTAINED:
                    print("contained crash: seed %d, input %d (%s), signal %d" % (seed0, tried, kind, -result.returncode))
            except subprocess.TimeoutExpired:
                wrong = "it did not end in %d s" % WALL_S
            if wrong:
                bad += 1
                print("seed %d, input %d (%s): %s" % (seed0, tried, kind, wrong))
            tried += 1
    print("%d files, %d decoded to their end, %d crashes contained, %d wrong" % (tried, good, crashed, bad))
    sys.exit(1 if bad or good < len(kinds) else 0)


main()
