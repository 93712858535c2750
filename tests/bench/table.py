#!/usr/bin/env python3
"""table.py BUILD [OUT] - one table of what letoff costs, each row beside something to compare it with, all
measured in one run on one machine.  Processor time of the processes themselves, so that a busy machine changes
little; memory is the largest resident size.  Written to OUT (tests/bench/figures.md when run by
`cmake --build build --target figures`)."""
import os
import re
import shutil
import subprocess
import sys
import tempfile

build = sys.argv[1]
out_path = sys.argv[2] if len(sys.argv) > 2 else None
letoff = os.path.join(build, "letoff")
env = dict(os.environ, SDL_AUDIODRIVER="dummy", SDL_VIDEODRIVER="offscreen", SDL_FRAMEBUFFER_ACCELERATION="0")
rows = []


def cost(command, times=1):
    """Processor seconds and megabytes of one run, children included (least of a few)."""
    best, size = 1e9, 0
    for _ in range(times):
        child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL, env=env)
        _, status, use = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode:
            sys.exit("%s ended with status %d" % (" ".join(command), child.returncode))
        best, size = min(best, use.ru_utime + use.ru_stime), max(size, use.ru_maxrss / 1024)
    return best, size


def row(what, value, beside, ratio):
    rows.append((what, value, beside, ratio))


def ms(seconds):
    return "%.0f ms" % (1e3 * seconds) if seconds >= 0.02 else "%.1f ms" % (1e3 * seconds)


def core():
    said = subprocess.run([os.path.join(build, "tests/bench/bench_core")], capture_output=True, text=True, check=True).stdout
    figure = {m.group(1): m.group(2) for m in re.finditer(r"^(.*): ([^:\n]*)$", said, re.M)}
    number = lambda key: float(figure[key].split()[0])
    for clock, day in (("longcase-countwheel-78", 24), ("floor-westminster-rack", 96)):
        rate = number("let-offs, " + clock)
        row("let-offs a second, " + clock, "%.2f million" % (rate / 1e6), "the clock itself, %d a day" % day,
            "%.1e : 1" % (rate * 86400 / day))
    for known in ("clock known", "clock unknown"):
        fresh, warm = number("belief of three rows, %s, fresh" % known), number("belief of three rows, %s, warm" % known)
        row("belief of three rows, %s, warm" % known, "%.1f ms" % warm, "fresh: %.1f ms" % fresh, "1 : %.1f" % (fresh / warm))
        row("the same, exact", "%.1f ms" % warm, "%s runs drawn, first cause to a standard error of 0.01: %.0f ms" % (
            figure["runs, " + known], number("the same by runs, " + known)), "1 : %.0f" % number("runs to belief, " + known))
    row("belief with pairs of faults, clock known, warm", "%.1f ms" % number("belief with pairs, clock known, warm"), "single faults: %.1f ms" %
        number("belief of three rows, clock known, warm"), "%.1f : 1" % number("pairs to singles, clock known, warm"))
    growth = re.findall(r"^belief of (\d+) rows, warm: ([\d.]+) ms, ([\d.]+) times", said, re.M)
    row("growth of a belief with its rows: " + ", ".join(g[0] for g in growth), ", ".join(g[1] for g in growth) + " ms", "one row",
        ", ".join(g[2] for g in growth) + " : 1")
    for what in ("faults", "clocks"):
        growth = re.findall(r"^belief of (\d+) %s, all \w+: ([\d.]+) ms, ([\d.]+) times" % what, said, re.M)
        row("growth of a belief with the %s thought of: " % what + ", ".join(g[0] for g in growth), ", ".join(g[1] for g in growth) + " ms",
            "the first", ", ".join(g[2] for g in growth) + " : 1")
    for clock in ("longcase-countwheel-78", "longcase-rack"):
        row("plans back into step from all %s states, %s" % (figure["states, " + clock], clock), figure["plans from every state, " + clock],
            "each plan: " + figure["a plan, " + clock].split(",")[0], "")


other_formats = {"aac.m4a": ["-c:a", "aac"], "vorbis.ogg": ["-c:a", "libvorbis"], "opus.ogg": ["-c:a", "libopus"], "a.mp3": ["-c:a", "libmp3lame"], "a.flac": []}


def listening_beside_peer(wav, path, words):
    """One row: the same recording in another format, the two programs in turn; the least of each."""
    made = shutil.which("ffmpeg") and subprocess.run(["ffmpeg", "-v", "error", "-y", "-i", wav] + words + [path]).returncode == 0
    if not made:
        return
    ours, theirs = zip(*[(cost([letoff, "listen", path])[0], cost(["aubioonset", "-i", path])[0]) for _ in range(8)])
    row("listening, " + os.path.basename(path), ms(min(ours)), "aubioonset: " + ms(min(theirs)), "%.2f : 1" % (min(ours) / min(theirs)))


def listening(folder):
    wav = os.path.join(folder, "hours.wav")
    cost([letoff, "play", "floor-westminster-rack", "--from", "2:59", "--to", "3:01", "--no-sound", "--out", wav])
    length = (os.path.getsize(wav) - 44) / 2 / 44100
    heard, size = cost([letoff, "listen", wav], 5)
    row("listening to a recording", "%.0f x real time" % (length / heard), "its length, %.0f s" % length, "1 : %.0f" % (length / heard))
    if shutil.which("aubioonset"):
        peer, peer_size = cost(["aubioonset", "-i", wav], 5)
        row("listening (decoding, sounders, counts, call sheet)", ms(heard), "aubioonset (onsets alone): " + ms(peer), "%.1f : 1" % (heard / peer))
        for name, words in other_formats.items():
            listening_beside_peer(wav, os.path.join(folder, name), words)
        row("memory of listening", "%.0f MB" % size, "aubioonset: %.0f MB" % peer_size, "%.1f : 1" % (size / peer_size))


def tables(folder):
    """All outcomes of all works, as the build makes them."""
    out = os.path.join(folder, "letoff.tables")
    took, size = cost([os.path.join(build, "src/diagnose/letoff-tables"), out])
    row("outcome tables of all clocks: size; time to make them, memory", "%.0f MB; %.1f s, %.0f MB" % (os.path.getsize(out) / 1e6, took, size), "", "")
    os.remove(out)


def starting(folder):
    nothing, nothing_size = cost(["/bin/true"], 20)
    sheet = "chimes/calls/demo-call.yaml"
    twelve, known = os.path.join(folder, "twelve.yaml"), os.path.join(folder, "known.yaml")
    heard = "heard:\n" + "".join('  - {at: "%d:00", strike: %d}\n' % (h % 12 + 1, (h - 1) % 12 + 1) for h in range(2, 14))
    for path, head in ((twelve, ""), (known, "clock: longcase-rack\n")):
        with open(path, "w") as f:
            f.write(head + heard)
    for what, words in (("--version", ["--version"]), ("list clocks, first output", ["list", "clocks"]),
                        ("find, the demo call", ["find", sheet]), ("find, twelve rows, clock unknown", ["find", twelve]),
                        ("find --pairs, twelve rows, clock known", ["find", "--pairs", known]), ("resync", ["resync", "longcase-countwheel-78", "--hands", "3:10", "--struck", "5"])):
        took, size = cost([letoff] + words, 5)
        row("letoff " + what, ms(took) + ", %.0f MB" % size, "/bin/true: " + ms(nothing), "%.0f : 1" % (took / max(nothing, 1e-4)))
    took, size = cost([letoff, "--fresh", "--shot", os.path.join(folder, "a.png")], 3)
    row("window, first frame (into a picture)", ms(took) + ", %.0f MB" % size, "/bin/true: " + ms(nothing), "%.0f : 1" % (took / max(nothing, 1e-4)))


with tempfile.TemporaryDirectory() as folder:
    env["XDG_DATA_HOME"] = env["XDG_CACHE_HOME"] = folder
    core()
    tables(folder)
    listening(folder)
    starting(folder)

table = ["| what | letoff | beside | ratio |", "|---|---|---|---|"] + ["| %s | %s | %s | %s |" % r for r in rows]
text = "# What it costs\n\nMade by `cmake --build build --target figures`; one run, one machine, processor time.\n\n" + "\n".join(table) + "\n"
print(text)
if out_path:
    with open(out_path + ".new", "w") as f:
        f.write(text)
    os.replace(out_path + ".new", out_path)
