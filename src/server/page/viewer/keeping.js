// keeping.js: below the reading: what else is said of a photo, and that it is kept in the job or dropped.

import { at, get, remove } from "../api.js";
import { button, el, field, fill, tell, trouble } from "../dom.js";
import * as outbox from "../outbox.js";
import * as store from "../store.js";
import { factWords, factsFields } from "./facts.js";
import * as queue from "./queue.js";
import { addressOf } from "./strip.js";

// Uploads that an entry of the outbox keeps: the one that was looked at first, then those that were read with it.
function uploadsOf({ address, body }) {
    const [, upload] = address.match(/^uploads\/([^/]+)\/keep$/) || [];
    return upload ? [upload, ...(body.more || [])] : [];
}

// A photo that was kept while there was no link is in the job as soon as the outbox has sent it. One that could not be read with
// the others is not, and waits as before.
outbox.outbox.addEventListener("sent", ({ detail }) => {
    const uploads = uploadsOf(detail.item);
    const left = uploads.filter((upload) => !detail.answer.kept?.includes(upload));
    for (const upload of uploads) if (!left.includes(upload)) forgetUpload(upload);
    for (const item of left.map(queue.ofUpload).filter(Boolean)) queue.note(item, { state: "sent" });
});

// The same for those that went out before this part of the page was there. What the program still has was not kept after all.
export async function settle() {
    await queue.start();
    const held = outbox.waiting().flatMap(uploadsOf);
    const out = queue.all().filter((item) => item.state === "keeping" && !held.includes(item.upload));
    if (!out.length) return;
    const there = await get("uploads").catch(() => null);
    for (const item of there ? out : []) {
        if (there.uploads.some((one) => one.upload === item.upload)) await queue.note(item, { state: "sent" });
        else await forgetUpload(item.upload);
    }
}

async function forgetUpload(upload) {
    await store.drop("marks", upload).catch(() => {});
    const item = queue.ofUpload(upload);
    if (item) await queue.kept(item);
}

export class Keeping {
    // bench: { answer, facts, item, job, page, questions, saved, state, together, upload, viewer, said(), save(), factsChanged() }
    constructor(bench) {
        this.bench = bench;
        this.states = el("div", {});
        this.button = button("", () => this.keep(), "main");
        this.trouble = el("div", {});
        this.sure = el("div", {});
        this.root = el("div", {});
    }

    drawStates() {
        fill(this.states, this.bench.questions.states());
    }

    draw() {
        this.drawStates();
        this.nameButton();
        fill(
            this.root,
            this.states,
            this.bench.questions.dry(),
            this.facts(),
            this.bench.together.root,
            this.trouble,
            el(
                "div",
                { class: "row" },
                this.button,
                button("Drop it", () => this.askDrop()),
            ),
            this.sure,
        );
    }

    nameButton() {
        const more = this.bench.together.chosen().length;
        const words = more ? `Keep these ${more + 1} photos` : "Keep this photo";
        if (this.button.textContent !== words) this.button.textContent = words;
    }

    facts() {
        const { bench } = this;
        const summary = el("summary", {});
        const say = () => {
            summary.textContent = `What it shows: ${factWords(bench.facts)}`;
        };
        const changed = () => {
            say();
            bench.save();
            bench.factsChanged();
        };
        const note = el("input", { type: "text", value: bench.saved.note, maxlength: "500", autocomplete: "off" });
        note.addEventListener("change", () => {
            bench.saved.note = note.value;
            bench.save();
        });
        say();
        const fields = factsFields(bench.facts, bench.state, changed);
        return el("details", { class: "facts" }, summary, fields, field("A note to it", note));
    }

    // Marks are not added to a kept photo: one without wood on it stays of no use to the job.
    asksUnmarked() {
        const { viewer } = this.bench;
        const isWood = (mark) => ["patch", "target"].includes(mark.role) && !mark.proposed;
        if (viewer.marks.list.some(isWood)) return false;
        const yes = button("Keep it all the same", () => this.keep(true));
        const no = button("Mark it first", () => {
            fill(this.sure);
            viewer.stage.root.scrollIntoView({ block: "nearest" });
            viewer.tools.root.querySelector("button")?.focus({ preventScroll: true });
        });
        const why =
            "Neither a repair nor old wood is marked: nothing can be read from it, and marks cannot be added later.";
        fill(this.sure, el("p", { class: "strong", role: "status" }, why), el("div", { class: "row" }, no, yes));
        no.focus();
        return true;
    }

    async keep(unmarked = false) {
        const { bench } = this;
        if (!bench.ready) {
            tell("It is still being read.");
            return;
        }
        if (bench.questions.open()) return;
        if (unmarked !== true && this.asksUnmarked()) return;
        const states = bench.questions.said();
        const body = {
            marks: bench.viewer.marks.plain(),
            job: bench.job,
            ...bench.said(),
            ...(bench.answer.seen && { seen: bench.answer.seen }),
            ...bench.together.ask(),
            ...(bench.saved.note && { note: bench.saved.note }),
            ...(states.length && { states }),
            ...(bench.saved.allDry && { all_dry: true }),
        };
        const more = body.more?.length || 0;
        const words = `the photo ${bench.answer.name}${more ? ` and ${more} more` : ""}`;
        try {
            const result = await outbox.log(at("uploads", bench.upload, "keep"), body, words, bench.job);
            const out = [bench.upload, ...(body.more || [])];
            if (result.waiting)
                for (const item of out.map(queue.ofUpload).filter(Boolean)) await queue.note(item, { state: "keeping" });
            tell(result.waiting ? "Kept on this device, not sent yet." : "The photo is in the job.");
            this.goOn(result.answer?.kept || out);
        } catch (error) {
            if (error.code === "not-found") bench.gone();
            else fill(this.trouble, trouble(error));
            if (error.code === "more-gone") bench.together.forget(error.subject);
        }
    }

    // To the next photo that waits, else to the job; "back" does not lead to a photo that is gone.
    goOn(gone = []) {
        const { item, job } = this.bench;
        const waits = (one) => ["waiting", "sending", "sent"].includes(one.state) && !gone.includes(one.upload);
        const next = queue.ofJob(job).find((one) => one !== item && waits(one));
        location.replace(next ? addressOf(next) : `#/${at("job", job)}`);
    }

    askDrop() {
        const words = el(
            "p",
            { class: "strong", tabindex: "-1" },
            "Drop this photo and its marks? It is not in the job yet.",
        );
        const drop = button("Yes, drop it", () => this.drop());
        const leave = button("No", () => fill(this.sure));
        fill(this.sure, el("div", { class: "question" }, words, el("div", { class: "row" }, drop, leave)));
        words.focus();
    }

    async drop() {
        const { item, upload, status } = this.bench;
        try {
            if (upload) await remove(at("uploads", upload));
        } catch (error) {
            if (error.status !== 404) {
                fill(this.root.isConnected && this.root.children.length ? this.trouble : status, trouble(error));
                return;
            }
        }
        if (upload) await store.drop("marks", upload).catch(() => {});
        if (item) await queue.drop(item);
        tell("Dropped.");
        this.goOn();
    }
}
