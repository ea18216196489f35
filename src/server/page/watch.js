// watch.js: the job that is on screen, asked every few seconds whether it grew, so that two phones on one job see the same.

import { at, get } from "./api.js";
import { tell } from "./dom.js";

const EVERY_MS = 5000;
let known = { job: "", last: 0 };

// Told by whoever has just seen the job as far as that event: what came by our own hand is no news.
export function sawLast(job, last) {
    if (known.job !== job) known = { job, last };
    else known.last = Math.max(known.last, last || 0);
}

export const lastSeen = (job) => (known.job === job ? known.last : 0);

export function forgetJob() {
    known = { job: "", last: 0 };
}

// Asks while the page is looked at, until the signal; `changed` is called when something new lies there.
export function watchJob(job, changed, signal) {
    const ask = async () => {
        if (document.visibilityState !== "visible") return;
        try {
            const { last } = await get(at("jobs", job, "last"), signal);
            if (signal.aborted) return;
            const news = known.job === job && known.last > 0 && last > known.last;
            sawLast(job, last);
            if (!news) return;
            tell("Changed on another device.");
            changed();
        } catch { /* no link: told in the head, and asked again */ }
    };
    const timer = setInterval(ask, EVERY_MS);
    const seen = () => document.visibilityState === "visible" && ask();
    document.addEventListener("visibilitychange", seen);
    signal.addEventListener("abort", () => {
        clearInterval(timer);
        document.removeEventListener("visibilitychange", seen);
    });
}
