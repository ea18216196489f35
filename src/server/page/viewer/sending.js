// sending.js: how far a photo has gone up, in words and as a bar.

import { el, fill } from "../dom.js";
import * as queue from "./queue.js";

function wordsOf(item) {
    const safe = item.safe === false ? " This device has no room left to keep it: leave the page open." : "";
    if (item.state === "waiting") return `Waiting to be sent.${safe}`;
    return item.share < 1 ? `Sending the photo.${safe}` : "Arriving …";
}

// Draws into `place` until the photo has gone up: resolves to its upload id, or throws why the program refused it.
export function untilSent(item, place, signal) {
    const bar = el("progress", { max: "1", "aria-label": "Sent so far" });
    const words = el("p", { class: "strong", role: "status" });
    const share = el("p", { "aria-hidden": "true" }); // a reader need not hear each per cent
    fill(place, words, bar, share);
    return new Promise((done, failed) => {
        const stop = new AbortController();
        signal.addEventListener("abort", () => stop.abort());
        const look = () => {
            if (item.state === "sent" || item.state === "refused") stop.abort();
            if (item.state === "sent") done(item.upload);
            if (item.state === "refused") failed(item.trouble);
            const said = wordsOf(item);
            if (words.textContent !== said) words.textContent = said;
            bar.value = item.share;
            bar.hidden = item.state !== "sending";
            share.textContent = bar.hidden ? "" : `${Math.floor(item.share * 100)} %`;
        };
        queue.changes.addEventListener("change", look, { signal: stop.signal });
        look();
    });
}
