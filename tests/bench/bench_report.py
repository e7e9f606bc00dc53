"""How long a report of many photos takes and how much memory, as ratios to plain reportlab in the same run.

    python tests/bench/bench_report.py FOLDER [--photos 200] [--runs 3]

FOLDER holds JPEG photos of 12 megapixels; they are used again under other digests when there are fewer than asked for.
Each figure comes from a fresh process. Printed: first build (previews in two threads, then the report) against
plain reportlab with one thread on the same pictures; peak memory against the same; growth of memory from 50 to 800
photos as the slope of a log-log line.
"""

import argparse
import hashlib
import io
import math
import os
import pathlib
import resource
import statistics
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parents[2])]


def photos_of(folder, count):
    found = sorted(p for p in folder.rglob("*") if p.suffix.lower() in (".jpg", ".jpeg"))
    return [found[n % len(found)] for n in range(count)]


def plain(photos, out):
    """Two photos a page, 1600 pixels, quality 80, one thread, the library as it is but without ASCII85."""
    from PIL import Image
    from reportlab import rl_config
    from reportlab.lib.utils import ImageReader
    from reportlab.pdfgen import canvas

    rl_config.useA85 = 0
    drawn = canvas.Canvas(str(out), pagesize=(595, 842), invariant=1)
    pictures = []
    for path in photos:
        with Image.open(path) as image:
            image.draft("RGB", (1600, 1200))
            image.thumbnail((1600, 1600), Image.Resampling.BICUBIC, reducing_gap=2.0)
            buffer = io.BytesIO()
            image.save(buffer, "JPEG", quality=80)
        buffer.seek(0)
        pictures.append(buffer)
    for number, picture in enumerate(pictures):
        y = 440 if number % 2 == 0 else 50
        drawn.drawImage(ImageReader(picture), 60, y + 20, 475, 356)
        drawn.setFont("Helvetica", 8)
        drawn.drawString(60, y, f"{number + 1}. {photos[number].name}  sha256 {'0' * 64}")
        if number % 2:
            drawn.showPage()
    drawn.save()


def report(photos, out, previews):
    """What the program does: previews in two threads, then the report with them."""
    from concurrent.futures import ThreadPoolExecutor

    from evidence.capture.preview import make_preview
    from evidence.model.exhibit import FileFacts
    from evidence.report.pdf import build_report

    from rich_dossier import given, small_book

    facts = FileFacts(media="photo", type="image/jpeg", reader="bench", width=4032, height=3024)
    book, digests = small_book(), {}
    for number, path in enumerate(photos):
        digest = hashlib.sha256(f"{number} {path}".encode()).hexdigest()
        digests[digest] = path
        book.exhibit(digest=digest, name=path.name, caption=f"View {number + 1} of the engine bay", read=facts.model_dump(exclude_none=True))

    def made(item):
        digest, path = item
        target = previews / f"{digest}.jpg"
        if not target.exists():
            reason = make_preview(path, facts, target)
            assert not reason, reason

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(made, digests.items()))
    build_report(given(book, preview=lambda d: previews / f"{d}.jpg"), out)


def measured(kind, folder, count, previews):
    with tempfile.TemporaryDirectory() as scratch:
        command = [sys.executable, str(HERE), str(folder), "--one", kind, "--photos", str(count), "--out", scratch, "--previews", str(previews or scratch)]
        done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    seconds, megabytes = done.stdout.split()[-2:]
    return float(seconds), float(megabytes)


def one(kind, photos, out, previews):
    for path in set(photos):
        with path.open("rb") as warm:
            while warm.read(1 << 20):
                pass
    start = time.perf_counter()
    if kind == "plain":
        plain(photos, out / "plain.pdf")
    else:
        report(photos, out / "report.pdf", previews)
    print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("folder", type=pathlib.Path)
    arguments.add_argument("--photos", type=int, default=200)
    arguments.add_argument("--runs", type=int, default=3)
    arguments.add_argument("--one")
    arguments.add_argument("--out", type=pathlib.Path)
    arguments.add_argument("--previews", type=pathlib.Path)
    asked = arguments.parse_args()
    photos = photos_of(asked.folder, asked.photos)
    if asked.one:
        one(asked.one, photos, asked.out, asked.previews)
        return
    runs = [(measured("plain", asked.folder, asked.photos, None), measured("report", asked.folder, asked.photos, None)) for _ in range(asked.runs)]
    time_ratio = statistics.median(r[0] / p[0] for p, r in runs)
    memory_ratio = statistics.median(r[1] / p[1] for p, r in runs)
    print(f"{os.cpu_count()} cores, {asked.photos} photos, {asked.runs} runs")
    print(f"plain {statistics.median(p[0] for p, _ in runs):.1f} s {statistics.median(p[1] for p, _ in runs):.0f} MB; report {statistics.median(r[0] for _, r in runs):.1f} s {statistics.median(r[1] for _, r in runs):.0f} MB")
    print(f"first build: {time_ratio:.2f} (pass 0.60); peak memory: {memory_ratio:.2f} (pass 0.35)")
    with tempfile.TemporaryDirectory() as previews:
        measured("report", asked.folder, 800, previews)  # makes the previews, so that only the report is measured
        few, many = measured("report", asked.folder, 50, previews), measured("report", asked.folder, 800, previews)
    slope = math.log(many[1] / few[1]) / math.log(16)
    print(f"50 photos {few[0]:.1f} s {few[1]:.0f} MB; 800 photos {many[0]:.1f} s {many[1]:.0f} MB (previews at hand); memory grows with exponent {slope:.2f} (pass 0.2)")
    print(f"built again, 800 photos: time grows with exponent {math.log(many[0] / few[0]) / math.log(16):.2f}")


if __name__ == "__main__":
    main()
