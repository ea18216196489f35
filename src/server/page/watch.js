// watch.js: the job that is on screen, asked every few seconds whether it grew, so that two phones on one job see the same.

import { at, get } from "./api.js";
import { tell } from "./dom.js";

const EVERY_MS = 5000;
let known = { job: "", last: 0, stands: "" };

// All of a job that a person would want to hear of. A plan that was looked at on another phone is logged too, and is no news.
function standing({ photos, parts, jars, settings, undo }) {
    const still = parts.map(({ wait, ...rest }) => ({ ...rest, wait: wait && wait.until }));
    return JSON.stringify([photos, still, jars, settings, undo]);
}

// Told by whoever has just put the job on screen.
export function sawJob(job, state) {
    known = { job, last: state.last, stands: standing(state) };
}

export function forgetJob() {
    known = { job: "", last: 0, stands: "" };
}

async function isNews(job, signal) {
    const { last } = await get(at("jobs", job, "last"), signal);
    if (known.job !== job || last <= known.last) return false;
    const before = known.stands;
    const state = await get(at("jobs", job), signal);
    // What was drawn meanwhile by our own hand has been seen.
    if (known.job !== job || known.stands !== before) return false;
    sawJob(job, state);
    return known.stands !== before;
}

// Asks while the page is looked at, until the signal; `changed` is called when something new lies there.
export function watchJob(job, changed, signal) {
    const ask = async () => {
        if (document.visibilityState !== "visible") return;
        try {
            if (!(await isNews(job, signal)) || signal.aborted) return;
            tell("Changed on another device.");
            changed();
        } catch {
            /* no link: told in the head, and asked again */
        }
    };
    const timer = setInterval(ask, EVERY_MS);
    const seen = () => document.visibilityState === "visible" && ask();
    document.addEventListener("visibilitychange", seen);
    signal.addEventListener("abort", () => {
        clearInterval(timer);
        document.removeEventListener("visibilitychange", seen);
    });
}
