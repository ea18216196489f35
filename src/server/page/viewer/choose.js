// choose.js: take photos or choose them. They are put down on this device first, then sent.

import { at, get, getKept } from "../api.js";
import { el, fill } from "../dom.js";
import { bench } from "./bench.js";
import { factWords, factsFields, usualFacts } from "./facts.js";
import { settle } from "./keeping.js";
import * as queue from "./queue.js";
import { addressOf, strip } from "./strip.js";
import { clock, longestWait, repairsOf, setClock } from "../work.js";

// Raw files have no type that browsers know, so they are named by their ends.
const KINDS = "image/*,.heic,.heif,.dng,.cr2,.cr3,.nef,.arw,.raf,.rw2,.orf,.pef,.srw";
const ADVICE = [
    "Lay the grey card flat beside the repair, in every photo.",
    "One kind of light, lamp at about 45 degrees from the side. No flash, no shine.",
    "Camera square on, a metre away or more, exposure and white balance locked.",
    "Wood dry, repair and old wood in the same state.",
];

function input(words, properties, take) {
    const made = el("input", { type: "file", accept: KINDS, "aria-label": words, ...properties });
    made.addEventListener("change", () => {
        if (made.files.length) take([...made.files]);
    });
    return el("span", { class: `press ${properties.capture ? "main" : ""}` }, words, made);
}

// The others are put down while the first one is looked at.
async function addRest(files, facts) {
    for (const file of files) await queue.add(file, facts);
}

export async function choose(page) {
    const job = page.names.job;
    await settle();
    const asked = page.query.get("photo");
    const item = asked && queue.ofJob(job).find((one) => one.id === asked);
    if (item) return bench(page, { item });
    page.onChange(() => {}); // what another device logs does not take the half-chosen away
    const [state, others] = await Promise.all([
        getKept(at("jobs", job), page.signal),
        get("uploads", page.signal)
            .then((answer) => answer.uploads.filter((one) => one.job === job))
            .catch(() => []),
    ]);
    page.title("Photograph", state.title);
    draw(page, job, state, others);
    return undefined;
}

// Said before the photo is taken, since one that comes too soon is of no use.
function notDry(page, state) {
    const wait = longestWait(repairsOf(state));
    if (!wait) return "";
    setClock(state);
    return el(
        "div",
        { class: "sheet" },
        el("p", { class: "strong" }, clock(wait, state, page.signal)),
        el("p", {}, "Before it is dry it looks darker than it is: then nothing is advised from the photo."),
    );
}

function draw(page, job, state, others) {
    const facts = usualFacts(state);
    const summary = el("summary", {});
    const said = () => {
        summary.textContent = `What it shows: ${factWords(facts)}`;
    };
    said();
    const take = async (files) => {
        performance.mark("chosen");
        const [first, ...rest] = files;
        const item = await queue.add(first, { job, ...facts });
        addRest(rest, { job, ...facts });
        history.replaceState(history.state, "", addressOf(item));
        fill(page.root);
        scrollTo(0, 0);
        document.querySelector("h1").focus({ preventScroll: true }); // what had it is gone
        await bench(page, { item, state });
    };
    const waiting = strip(job, page.signal, { others, alone: true });
    const first = !(state.photos || []).length;
    page.root.append(
        notDry(page, state),
        el(
            "div",
            { class: "ways" },
            input("Take a photo", { capture: "environment" }, take),
            input("Choose photos", { multiple: true }, take),
        ),
        el("p", { class: "hint" }, "You may choose several at once: they go up one after the other. Of one state three tell more than one, the card lifted and laid down again between them."),
        el(
            "details",
            { class: "facts sheet", open: first || page.query.has("lamp") },
            summary,
            factsFields(facts, state, said),
        ),
        waiting.root.hidden ? "" : el("h2", {}, "On their way"),
        waiting.root,
        el(
            "details",
            { open: first },
            el("summary", {}, "How to photograph"),
            el(
                "ul",
                {},
                ADVICE.map((line) => el("li", {}, line)),
            ),
        ),
    );
}
