#!/usr/bin/env python3
"""The whole job in a circle on rendered photos: photograph, ask, lay what is advised, photograph again.

The shop's passes are weaker or stronger than the program's guess; the true colours are known. What must hold, whatever the
strength: the repair never ends over 1 L* darker than the old wood, and the gap ends smaller than it began.

    loop.py HUEWRIGHT HW_SCENE FOLDER [--short]
"""
import json
import os
import shutil
import subprocess
import sys

program, renderer, folder = sys.argv[1:4]
short = "--short" in sys.argv
RUNS = [("lid", "lid strip", 1.0), ("lid", "lid strip", 1.9)] if short else [
    (scene, patch, strength) for scene, patch in (("lid", "lid strip"), ("bench", "back board 2"))
    for strength in (0.5, 0.75, 1.0, 1.4, 1.9)]
TURNS = 4 if short else 12


def huewright(*words):
    result = subprocess.run([program, *words, "--json"], capture_output=True, text=True, check=True)
    return json.loads(result.stdout)


def render(scene, number, laid, strength):
    words = [renderer, scene, folder, "--name", f"photo-{number}", "--noise-seed", str(number + 3),
             "--shop-strength", str(strength)]
    for dye, amount in laid.items():
        words += ["--dye", f"{dye}={amount:g}x1"]
    subprocess.run(words, check=True)


def truth(number, patch):
    with open(f"{folder}/photo-{number}.json", encoding="utf-8") as file:
        return next(p for p in json.load(file)["patches"] if p["name"] == patch)


def run(scene, patch, strength):
    shutil.rmtree(folder, ignore_errors=True)
    os.makedirs(folder)
    job = f"{folder}/job"
    huewright("start", job)
    laid, told, first, depth = {}, [], None, None
    for number in range(TURNS):
        render(scene, number, laid, strength)
        now = truth(number, patch)
        first = first or now["de00"]
        depth = now["minus_target"][0]
        marks = ["--marks", f"{folder}/photo-0-marks.json"] if number == 0 else []
        huewright("photo", job, f"{folder}/photo-{number}.jpg", *marks)
        advice = huewright("advise", job, "--patch", patch)
        told.append(f"{now['de00']:.1f} ({depth:+.1f} L*)")
        if depth < -1.0 or not advice["next"]:
            told.append(f"stop: {advice['why']}")
            break
        dose, passes = advice["next"]["liquid"][0], advice["next"]["passes"]
        told.append(f"{passes} x {dose['dye']} at {dose['strength']:g}")
        laid[dose["dye"]] = laid.get(dose["dye"], 0.0) + dose["strength"] * passes
        huewright("pass", job, "--patch", patch, "--dye", f"{dose['dye']}={dose['strength']:g}",
                  "--passes", str(passes))
    good = depth >= -1.0 and now["de00"] < first
    print(f"{scene}, passes {strength} times the guess: {'; '.join(told)}{'' if good else '  BROKEN'}")
    return good


os.environ["XDG_DATA_HOME"] = folder + "-own"  # no shelf of anybody's
results = [run(*one) for one in RUNS]
print(f"{results.count(True)} passed, {results.count(False)} failed")
sys.exit(0 if all(results) else 1)
