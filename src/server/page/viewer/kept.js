// kept.js: a photo that is in the job, as it was marked and read then. Looked at only.

import { at, get } from "../api.js";
import { el } from "../dom.js";
import { timeWords } from "../work.js";
import { factWords } from "./facts.js";
import { Reading, Warnings, warningsOf } from "./reading.js";
import { Viewer } from "./viewer.js";

const LONGEST = 2048; // pixels: enough for a phone at four times its width

export async function keptPhoto(page) {
    const { job, photo: number } = page.names;
    page.onChange(() => {});
    const answer = await get(at("jobs", job, "photos", number), page.signal);
    const event = answer.photo || {};
    const facts = { view: event.view || "", lamp: event.lamp || "", from: event.from || "" };
    page.title(`Photo ${number}`, job);
    const marks = answer.marks?.marks || answer.marks || [];
    const viewer = new Viewer({ signal: page.signal, readOnly: true, label: `Photo ${number} with its marks` });
    const reading = new Reading(),
        wrong = new Warnings();
    wrong.show(warningsOf(answer.reading));
    page.root.append(
        el("p", {}, [factWords(facts), event.at && timeWords(event.at), event.note].filter(Boolean).join(". ")),
        wrong.root,
        el(
            "div",
            { class: "bench-photo" },
            viewer.root,
            el("div", { class: "bench-words" }, reading.root),
            viewer.list,
        ),
    );
    if (answer.shown?.length) reading.show(answer.shown);
    else reading.wait("Nothing was read on this photo.");
    const size = sizeOf(answer, event);
    await viewer.start();
    await viewer.showFrom(
        `/api/${at("jobs", job, "photos", number, "picture")}`,
        LONGEST,
        size,
        `Photo ${number}, ${facts.view}`,
    );
    viewer.setMarks(marks);
}

// Pixels that the marks are counted in.
function sizeOf(answer, event) {
    const [width, height] = answer.marks?.picture || [];
    if (width) return { width, height };
    const photo = answer.reading?.photo || event;
    return photo.width ? { width: photo.width, height: photo.height } : null;
}
