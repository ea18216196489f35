// together.js: further photos of the state that this one shows, which wait here too: read with it, and kept as one reading.

import { at, get } from "../api.js";
import { el, fill, tell, ticked, ticks } from "../dom.js";
import * as queue from "./queue.js";

const MORE_MOST = 4; // beside this one
const SMALL = 200; // pixels

export class Together {
    // bench: { facts, job, page, saved, upload, save(), read(), keeping }
    constructor(bench) {
        this.bench = bench;
        this.elsewhere = []; // sent by another device, or before this one forgot
        this.gone = []; // not at the program any more
        this.asked = "[]"; // those that the reading on the screen is of
        this.small = new Map(); // address of its small picture, by upload
        this.root = el("div", {});
        bench.page.signal.addEventListener("abort", () => {
            for (const address of this.small.values()) URL.revokeObjectURL(address);
        });
        queue.changes.addEventListener("change", () => this.draw(), { signal: bench.page.signal });
    }

    // What the program has beside what this device knows of.
    async start() {
        const there = await get("uploads", this.bench.page.signal).catch(() => ({ uploads: [] }));
        this.elsewhere = there.uploads.filter((one) => one.job === this.bench.job);
        this.draw();
    }

    // [{ upload, name }] of the same side.
    candidates() {
        const { facts, job, upload } = this.bench;
        const here = queue.ofJob(job).filter((item) => item.state === "sent");
        const known = queue.ofJob(job).map((item) => item.upload);
        const all = [...here, ...this.elsewhere.filter((one) => !known.includes(one.upload))];
        // The same file sent twice is one upload.
        return all.filter(
            (one, i) =>
                one.upload !== upload &&
                one.view === facts.view &&
                !this.gone.includes(one.upload) &&
                all.findIndex((other) => other.upload === one.upload) === i,
        );
    }

    // Ids of those that are to be read with it.
    chosen() {
        const there = this.candidates().map((one) => one.upload);
        return (this.bench.saved.more || []).filter((upload) => there.includes(upload));
    }

    picture(one) {
        if (!this.small.has(one.upload))
            this.small.set(
                one.upload,
                one.blob
                    ? URL.createObjectURL(one.blob)
                    : `/api/${at("uploads", one.upload, "picture")}?longest=${SMALL}`,
            );
        return el("img", { src: this.small.get(one.upload), alt: "", loading: "lazy" });
    }

    // Draws them, and has them read as they are ticked where that is not what was read last: one may have come, or gone.
    draw() {
        this.drawList();
        const { bench } = this;
        if (!bench.ready) return;
        bench.keeping.nameButton();
        if (JSON.stringify(this.chosen()) !== this.asked) bench.read();
    }

    // For a request: those that are to be read with it.
    ask() {
        const more = this.chosen();
        this.asked = JSON.stringify(more);
        return more.length ? { more } : {};
    }

    drawList() {
        const list = this.bench.ready ? this.candidates() : [];
        const now = JSON.stringify([list.map((one) => one.upload), this.chosen()]);
        if (now === this.drawn) return;
        this.drawn = now;
        if (!list.length) {
            fill(this.root);
            return;
        }
        const set = ticks(
            "Does one of these show the same state, the card lifted and laid down again? Tick it: they are read as one.",
            "together",
            list.map((one) => [one.upload, [this.picture(one), ` ${one.name || "a photo"}`]]),
            this.chosen(),
        );
        set.classList.add("together");
        set.addEventListener("change", (event) => this.changed(ticked(set), event.target));
        fill(this.root, set);
    }

    changed(uploads, input) {
        const { bench } = this;
        if (uploads.length > MORE_MOST) {
            input.checked = false;
            tell(`At most ${MORE_MOST + 1} photos are read as one.`);
            return;
        }
        bench.saved.more = uploads;
        this.drawn = JSON.stringify([this.candidates().map((one) => one.upload), uploads]);
        bench.save();
        this.draw();
    }

    // One of them is not there any more; where this device still has its file, its own bench offers to send it again.
    forget(upload) {
        this.gone.push(upload);
        this.bench.saved.more = (this.bench.saved.more || []).filter((one) => one !== upload);
        this.bench.save();
        this.draw();
    }
}
