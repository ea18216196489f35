// bench.js: one photo on the bench, before it is kept: sent, opened, marked, read.
//
//   chosen      stands on the screen at once where the browser can show it, while it goes up
//   opened      the program proposes marks; what a person had placed before a reload goes before
//   read        whenever marks rest; one question at a time is asked, the newest marks next
//   kept        through the outbox, so a lost link loses nothing
//
// All of it is saved on this device as it changes ("marks" of store.js, by upload).

import { at, get, getKept, link, post, remove } from "../api.js";
import { button, el, field, fill, tell, trouble } from "../dom.js";
import * as outbox from "../outbox.js";
import * as store from "../store.js";
import { factWords, factsFields, usualFacts } from "./facts.js";
import * as queue from "./queue.js";
import { Questions } from "./questions.js";
import { Reading, missing, Warnings, warningsOf } from "./reading.js";
import { addressOf, strip } from "./strip.js";
import { Viewer } from "./viewer.js";

const REST_MS = 250;   // that a mark being dragged must stand still to be read
const LONGEST = 2048;  // pixels of the program's picture, where the browser cannot show the file itself

// A photo that was kept while there was no link is in the job as soon as the outbox has sent it.
outbox.outbox.addEventListener("sent", ({ detail }) => {
    const [, upload] = detail.item.address.match(/^uploads\/([^/]+)\/keep$/) || [];
    if (upload) forgetUpload(upload);
});

// The same for those that went out before this part of the page was there. What the program still has was not kept after all.
export async function settle() {
    await queue.start();
    const held = outbox.waiting().map((one) => one.address);
    const out = queue.all().filter((item) => item.state === "keeping" && !held.includes(at("uploads", item.upload, "keep")));
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

// item: of the queue, or null where this device does not have the file; upload: the program's id of it, "" while it goes up.
export async function bench(page, { item = null, upload = "", state = null }) {
    await settle();
    const found = item || queue.ofUpload(upload);
    await new Bench(page, found, found?.upload || upload, state).start();
}

// What a person drew while the photo went up goes before what the program proposes.
function together(drawn, proposed) {
    const references = ["card", "neutral", "chart"];
    const own = drawn.some((mark) => references.includes(mark.role));
    return [...drawn, ...proposed.filter((mark) => !drawn.some((other) => other.name === mark.name) && !(own && references.includes(mark.role)))];
}

class Bench {
    constructor(page, item, upload, state) {
        Object.assign(this, { page, item, upload, state, job: page.names.job });
        this.answer = null;
        this.ready = false;   // opened, with its marks on the screen
        this.again = null;    // what is done when the link is back
        this.busy = false;    // a reading is asked for
        this.stale = false;   // and the marks have moved since
        this.timer = 0;
        this.saved = { answered: {}, states: {}, note: "" };
    }

    async start() {
        const { page } = this;
        page.onChange(() => {});
        page.title(this.item?.name || "Photo", this.job);
        if (!this.state) this.state = await getKept(at("jobs", this.job), page.signal).catch(() => null);
        this.facts = this.item ? { view: this.item.view, lamp: this.item.lamp, from: this.item.from } : usualFacts(this.state);
        this.build();
        await this.viewer.start();
        this.viewer.addEventListener("rest", () => this.rested());
        this.viewer.addEventListener("mode", () => this.questions.aside());
        this.viewer.addEventListener("live", () => this.moving());
        page.signal.addEventListener("abort", () => { clearTimeout(this.timer); this.url && URL.revokeObjectURL(this.url); });
        link.addEventListener("change", () => this.linkBack(), { signal: page.signal });
        this.run().catch((error) => this.failed(error));
    }

    linkBack() {
        const { again } = this;
        if (!link.up || !again) return;
        this.again = null;
        again();
    }

    build() {
        const { page } = this;
        this.status = el("div", { class: "progress" });
        this.wrong = new Warnings();
        this.questions = new Questions(this);
        this.reading = new Reading();
        this.viewer = new Viewer({ signal: page.signal, around: (mark) => this.around(mark), names: (role) => this.names(role),
            elsewhere: (name) => (this.state?.parts || []).some((part) => part.name === name && !this.isHere(part)) });
        this.viewer.between.append(this.status, this.questions.root);
        this.after = el("div", { class: "after" });
        this.strip = strip(this.job, page.signal, { now: () => this.upload || this.item?.id });
        page.root.append(this.strip.root, this.wrong.root,
            el("div", { class: "bench-photo" }, this.viewer.root,
                el("div", { class: "bench-words" }, this.reading.root, this.after), this.viewer.list));
    }

    // ---- From the file to an opened photo --------------------------------------------------

    async run() {
        this.canMark(true);
        const local = this.showLocal();
        if (!this.upload) await this.sent();
        if (this.page.signal.aborted) return;
        if (this.item) history.replaceState(history.state, "", addressOf(this.item));
        this.say("Reading the photo …");
        this.answer = await get(at("uploads", this.upload), this.page.signal);
        await local;
        await this.opened();
    }

    async showLocal() {
        if (!this.item?.blob || this.url) return;
        this.url = URL.createObjectURL(this.item.blob);
        try {
            await this.viewer.show(this.url, null, this.item.name);
        } catch {
            this.unshown = true;
            return;
        }
        const early = await store.get("marks", this.item.id).catch(() => null);
        if (early && !this.answer) this.viewer.setMarks(early.marks);
    }

    // Resolves when it has gone up.
    sent() {
        const { item, page } = this;
        return new Promise((done) => {
            const bar = el("progress", { max: "1", "aria-label": "Sent so far" });
            const words = el("p", { class: "strong", role: "status" });
            const share = el("p", { "aria-hidden": "true" });
            fill(this.status, words, bar, share);
            const look = () => {
                if (item.state === "sent") {
                    stop.abort();
                    this.upload = item.upload;
                    done();
                } else if (item.state === "refused") {
                    stop.abort();
                    this.failed(item.trouble);
                }
                const safe = item.safe !== false ? "" : " This device has no room left to keep it: leave the page open.";
                const said = item.state === "waiting" ? `Waiting to be sent.${safe}` : item.share < 1 ? `Sending the photo.${safe}` : "Arriving …";
                if (words.textContent !== said) words.textContent = said;
                bar.value = item.share;
                share.textContent = item.state === "sending" ? `${Math.floor(item.share * 100)} %` : "";
                bar.hidden = item.state !== "sending";
            };
            const stop = new AbortController();
            page.signal.addEventListener("abort", () => stop.abort());
            queue.changes.addEventListener("change", look, { signal: stop.signal });
            look();
        });
    }

    say(words) { fill(this.status, words ? el("p", { class: "strong", role: "status" }, words) : ""); }

    canMark(can) {
        this.viewer.tools.root.hidden = !can;
        this.viewer.list.hidden = !can;
    }

    failed(error) {
        if (error.name === "AbortError") return undefined;
        this.canMark(error.code === "no-link");
        if (!error.what) console.error(error);
        const run = () => this.run().catch((wrong) => this.failed(wrong));
        if (error.code === "no-link") this.again = run;
        if (error.code === "not-found") return this.gone();
        fill(this.status, trouble(error), el("div", { class: "row" }, error.code === "no-link" ? button("Try again", run, "main") : null,
            el("a", { class: "press", href: `#/${at("job", this.job, "new")}` }, "Choose another photo"),
            this.item || this.upload ? button("Drop this one", () => this.drop()) : null));
        this.reading.wait("This photo was not read.");
        return undefined;
    }

    // Kept or dropped on another device, as a rule; where this device still has the file it can go up once more.
    gone() {
        const { item } = this;
        const again = async () => {
            this.upload = "";
            await queue.sendAgain(item);
            this.run().catch((error) => this.failed(error));
        };
        fill(this.status, trouble({ what: "The program does not have this photo any more.", next: "It was kept in the job, or dropped, on another device." }),
            el("div", { class: "row" }, el("a", { class: "press main", href: `#/${at("job", this.job)}` }, "To the job"),
                item?.blob ? [button("Send it again", again), button("Forget it here", () => this.drop())] : null));
        this.reading.wait("This photo was not read.");
    }

    async opened() {
        const { answer, viewer } = this;
        const kept = await this.takeSaved();
        if (answer.view) this.facts.view = this.facts.view || answer.view;
        const { width, height } = answer.photo;
        const { size } = viewer.stage;
        if (size.width !== width || size.height !== height || this.unshown || !this.url)
            await viewer.showFrom(`/api/${at("uploads", this.upload, "picture")}`, LONGEST, { width, height }, answer.name || "photo");
        viewer.setMarks(kept && !kept.early ? kept.marks : together(kept?.marks || [], answer.marks || []));
        this.ready = true;
        this.page.title(answer.name || "Photo", this.job);
        this.say("");
        this.drawAfter();
        this.questions.draw();
        this.strip.draw();
        if (kept?.early) this.save();
        if (!kept && answer.reading) this.shown(answer.reading);
        else if (!kept && answer.error && !missing(viewer.marks.plain())) this.refused(answer.error);
        else this.read();
    }

    // What was saved of it: by its upload, or under the name that it had on this device while it went up.
    async takeSaved() {
        const { item, upload } = this;
        const kept = await store.get("marks", upload).catch(() => null) || (item && await store.get("marks", item.id).catch(() => null));
        if (!kept) return null;
        if (item) store.drop("marks", item.id).catch(() => {});
        Object.assign(this.saved, { answered: kept.answered, states: kept.states, note: kept.note });
        this.facts = kept.facts || this.facts;
        return kept;
    }

    // ---- Reading ----------------------------------------------------------------------------

    moving() {
        clearTimeout(this.timer);
        this.timer = setTimeout(() => this.read(), REST_MS);
    }

    rested() {
        clearTimeout(this.timer);
        this.save();
        this.questions.draw();
        this.read();
    }

    // One question at a time; what was asked with marks that have moved since is asked again, and its answer left aside.
    async read() {
        if (!this.ready) return;
        if (this.busy) {
            this.stale = true;
            return;
        }
        performance.mark("marks rest");
        const marks = this.viewer.marks.plain();
        const need = missing(marks);
        this.viewer.blame("");
        if (need) {
            this.wrong.show(this.answer.photo.warnings || []);
            this.reading.wait(need);
            return;
        }
        this.busy = true;
        this.stale = false;
        const { view, lamp, from } = this.facts;
        const asked = { marks, view, ...(lamp && { lamp }), ...(from && { from }) };
        const outcome = await post(at("uploads", this.upload, "reading"), asked, this.page.signal).catch((error) => ({ wrong: error }));
        this.busy = false;
        if (outcome.wrong?.name === "AbortError") return;
        if (this.stale) this.read();
        else if (outcome.wrong) this.refused(outcome.wrong);
        else this.shown(outcome);
    }

    shown(reading) {
        this.wrong.show(warningsOf(reading));
        this.reading.show(reading.shown || []);
        performance.mark("reading shown");
    }

    refused(error) {
        const { viewer } = this;
        if (error.code === "no-link") this.again = () => this.read();
        const mark = error.subject ? viewer.marks.named(error.subject) : null;
        viewer.blame(mark ? mark.name : "");
        if (mark && !viewer.selected && !viewer.drawing) viewer.select(mark.id);
        const show = mark ? () => { viewer.select(mark.id, { reveal: true }); viewer.root.scrollIntoView({ block: "nearest" }); } : null;
        this.reading.refuse(error, show);
        performance.mark("reading shown");
    }

    async around(mark) {
        const answer = await post(at("uploads", this.upload, "around"), { marks: this.viewer.marks.plain(), patch: mark.name }, this.page.signal);
        return answer.marks || [];
    }

    // Parts of the job that were seen from this side.
    names(role) { return (this.state?.parts || []).filter((part) => part.role === role && this.isHere(part)).map((part) => part.name); }

    isHere(part) {
        const photo = (this.state?.photos || []).find((one) => one.number === part.photo);
        return !photo || photo.view === this.facts.view;
    }

    // ---- What else is said of it, and keeping it ----------------------------------------------

    // `early`: the program has not proposed its marks yet.
    save() {
        const key = this.ready ? this.upload : this.item?.id;
        if (!key) return;
        const marks = this.viewer.marks.plain({ proposals: true });
        const { answered, states, note } = this.saved;
        store.put("marks", key, { marks, facts: this.facts, answered, states, note, early: !this.ready }).catch(() => {});
    }

    drawAfter() {
        const summary = el("summary", {});
        const said = () => { summary.textContent = `What it shows: ${factWords(this.facts)}`; };
        said();
        const note = el("input", { type: "text", value: this.saved.note, maxlength: "500", autocomplete: "off",
            on: { change: () => { this.saved.note = note.value; this.save(); } } });
        this.refusal = el("div", {});
        this.sure = el("div", {});
        fill(this.after, this.questions.states(),
            el("details", { class: "facts" }, summary, factsFields(this.facts, this.state, () => { said(); this.save(); this.read(); }),
                field("A note to it", note)),
            this.refusal,
            el("div", { class: "row" }, button("Keep this photo", () => this.keep(), "main"), button("Drop it", () => this.askDrop())),
            this.sure);
    }

    async keep() {
        if (this.questions.open()) return;
        const { view, lamp, from } = this.facts;
        const states = Object.entries(this.saved.states).filter(([, state]) => state).map(([part, state]) => ({ part, state }));
        const body = { marks: this.viewer.marks.plain(), job: this.job, view: view || "front",
            ...(lamp && { lamp }), ...(from && { from }), ...(this.saved.note && { note: this.saved.note }), ...(states.length && { states }) };
        try {
            const result = await outbox.log(at("uploads", this.upload, "keep"), body, `the photo ${this.answer.name}`, this.job);
            if (result.waiting && this.item) await queue.note(this.item, { state: "keeping" });
            tell(result.waiting ? "Kept on this device, not sent yet." : "The photo is in the job.");
            this.goOn();
        } catch (error) {
            fill(this.refusal, trouble(error));
        }
    }

    // To the next photo that waits, else to the job.
    goOn() {
        const next = queue.ofJob(this.job).find((one) => one !== this.item && ["waiting", "sending", "sent"].includes(one.state));
        location.replace(next ? addressOf(next) : `#/${at("job", this.job)}`); // "back" does not lead to a photo that is gone
    }

    askDrop() {
        fill(this.sure, el("div", { class: "question" }, el("p", { class: "strong", tabindex: "-1" }, "Drop this photo and its marks? It is not in the job yet."),
            el("div", { class: "row" }, button("Yes, drop it", () => this.drop()), button("No", () => fill(this.sure)))));
        this.sure.querySelector("p").focus();
    }

    async drop() {
        try {
            if (this.upload) await remove(at("uploads", this.upload));
        } catch (error) {
            if (error.status !== 404) {
                fill(this.refusal || this.status, trouble(error));
                return;
            }
        }
        await store.drop("marks", this.upload || "-").catch(() => {});
        if (this.item) await queue.drop(this.item);
        tell("Dropped.");
        this.goOn();
    }
}
