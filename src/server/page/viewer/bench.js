// bench.js: one photo on the bench, before it is kept: sent, opened, marked, read.
//
//   chosen      stands on the screen at once where the browser can show it, while it goes up
//   opened      the program proposes marks; what a person had placed before a reload goes before
//   read        whenever marks rest; one question at a time is asked, the newest marks next
//   kept        through the outbox, so a lost link loses nothing
//
// All of it is saved on this device as it changes ("marks" of store.js, by upload).

import { at, get, getKept, link, post, remove } from "../api.js";
import { button, el, fill, tell, trouble } from "../dom.js";
import * as store from "../store.js";
import { usualFacts } from "./facts.js";
import { Keeping, settle } from "./keeping.js";
import * as queue from "./queue.js";
import { Questions } from "./questions.js";
import { Reading, missing, Warnings, warningsOf } from "./reading.js";
import { untilSent } from "./sending.js";
import { addressOf, strip } from "./strip.js";
import { Together } from "./together.js";
import { Viewer } from "./viewer.js";

const REST_MS = 250; // that a mark being dragged must stand still to be read
const LONGEST = 2048; // pixels of the program's picture, where the browser cannot show the file itself

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
    return [
        ...drawn,
        ...proposed.filter(
            (mark) => !drawn.some((other) => other.name === mark.name) && !(own && references.includes(mark.role)),
        ),
    ];
}

class Bench {
    constructor(page, item, upload, state) {
        Object.assign(this, { page, item, upload, state, job: page.names.job });
        this.answer = null;
        this.ready = false; // opened, with its marks on the screen
        this.again = null; // what is done when the link is back
        this.busy = false; // a reading is asked for
        this.stale = false; // and the marks have moved since
        this.timer = 0;
        this.saved = { answered: {}, states: {}, note: "", more: [] };
    }

    async start() {
        const { page } = this;
        page.onChange(() => {});
        page.title(this.item?.name || "Photo", this.job);
        if (!this.state) this.state = await getKept(at("jobs", this.job), page.signal).catch(() => null);
        this.facts = this.item
            ? { view: this.item.view, lamp: this.item.lamp, from: this.item.from }
            : usualFacts(this.state);
        this.build();
        await this.viewer.start();
        this.viewer.addEventListener("rest", () => this.rested());
        this.viewer.addEventListener("mode", () => this.questions.aside());
        this.viewer.addEventListener("live", () => this.moving());
        page.signal.addEventListener("abort", () => {
            clearTimeout(this.timer);
            this.url && URL.revokeObjectURL(this.url);
        });
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
        this.viewer = new Viewer({
            signal: page.signal,
            around: (mark) => this.around(mark),
            names: (role) => this.names(role),
            elsewhere: (name) => (this.state?.parts || []).some((part) => part.name === name && !this.isHere(part)),
        });
        this.viewer.between.append(this.status, this.reading.brief, this.questions.root);
        this.together = new Together(this);
        this.keeping = new Keeping(this);
        this.strip = strip(this.job, page.signal, { now: () => this.upload || this.item?.id });
        page.root.append(
            this.strip.root,
            this.wrong.root,
            el(
                "div",
                { class: "bench-photo" },
                this.viewer.root,
                el("div", { class: "bench-words" }, this.reading.root, this.keeping.root),
                this.viewer.list,
            ),
        );
    }

    // ---- From the file to an opened photo --------------------------------------------------

    async run() {
        this.canMark(true);
        const local = this.showLocal();
        if (!this.upload) this.upload = await untilSent(this.item, this.status, this.page.signal);
        if (this.page.signal.aborted) return;
        if (this.item) history.replaceState(history.state, "", addressOf(this.item));
        this.say("Reading the photo …");
        const { lamp, from } = this.facts;
        const said = new URLSearchParams({ ...(lamp && { lamp }), ...(from && { from }) });
        this.answer = await get(`${at("uploads", this.upload)}?${said}`, this.page.signal);
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

    say(words) {
        fill(this.status, words ? el("p", { class: "strong", role: "status" }, words) : "");
    }

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
        if (error.status === 422 && this.item) queue.note(this.item, { state: "unread" });
        fill(
            this.status,
            trouble(error),
            el(
                "div",
                { class: "row" },
                error.code === "no-link" ? button("Try again", run, "main") : null,
                el("a", { class: "press", href: `#/${at("job", this.job, "new")}` }, "Choose another photo"),
                this.item || this.upload ? button("Drop this one", () => this.keeping.drop()) : null,
            ),
        );
        this.reading.wait("This photo was not read.");
        return undefined;
    }

    // Kept or dropped on another device, as a rule; where this device still has the file it can go up once more.
    gone() {
        const { item } = this;
        this.ready = false;
        this.canMark(false);
        this.keeping.root.replaceChildren();
        const again = async () => {
            const kept = await store.get("marks", this.upload).catch(() => null);
            if (kept) await store.put("marks", item.id, { ...kept, early: true }).catch(() => {});
            await store.drop("marks", this.upload).catch(() => {});
            this.upload = "";
            this.answer = null;
            await queue.sendAgain(item);
            this.run().catch((error) => this.failed(error));
        };
        fill(
            this.status,
            trouble({
                what: "The program does not have this photo any more.",
                next: "It was kept in the job, or dropped, on another device.",
            }),
            el(
                "div",
                { class: "row" },
                el("a", { class: "press main", href: `#/${at("job", this.job)}` }, "To the job"),
                item?.blob
                    ? [button("Send it again", again), button("Forget it here", () => this.keeping.drop())]
                    : null,
            ),
        );
        this.reading.wait("This photo was not read.");
    }

    async opened() {
        const { answer, viewer } = this;
        const kept = await this.takeSaved();
        if (!kept && !this.item && answer.view) this.facts.view = answer.view; // as whoever sent it said
        const { width, height } = answer.photo;
        const { size } = viewer.stage;
        if (size.width !== width || size.height !== height || this.unshown || !this.url)
            await viewer.showFrom(
                `/api/${at("uploads", this.upload, "picture")}`,
                LONGEST,
                { width, height },
                answer.name || "photo",
            );
        viewer.setMarks(kept && !kept.early ? kept.marks : together(kept?.marks || [], answer.marks || []));
        this.ready = true;
        this.page.title(answer.name || "Photo", this.job);
        this.say("");
        this.together.drawList();
        this.together.start();
        this.keeping.draw();
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
        const kept =
            (await store.get("marks", upload).catch(() => null)) ||
            (item && (await store.get("marks", item.id).catch(() => null)));
        if (!kept) return null;
        if (item) store.drop("marks", item.id).catch(() => {});
        Object.assign(this.saved, {
            answered: kept.answered,
            states: kept.states,
            note: kept.note,
            allDry: kept.allDry,
            more: kept.more || [],
        });
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
        const need = missing(marks, this.viewer.marks.proposals().length);
        this.viewer.blame("");
        if (need) {
            this.wrong.show(
                warningsOf(null, [...this.answer.photo.warnings, ...(this.answer.warnings || [])]),
                this.questions.hasReference() ? undefined : "Without a grey card in it nothing can be read.",
            );
            this.reading.wait(need);
            return;
        }
        this.busy = true;
        this.stale = false;
        const outcome = await this.ask(marks).catch((wrong) => ({ wrong }));
        this.busy = false;
        if (outcome.wrong?.name === "AbortError") return;
        if (this.stale) this.read();
        else if (outcome.wrong) this.refused(outcome.wrong);
        else this.shown(outcome);
    }

    async ask(marks) {
        const body = { marks, ...this.said(), ...this.together.ask() };
        const words = body.more ? `Reading ${body.more.length + 1} photos as one …` : "";
        if (words) this.say(words);
        try {
            return await post(at("uploads", this.upload, "reading"), body, this.page.signal);
        } finally {
            if (words && this.status.textContent === words) this.say("");
        }
    }

    // Of the photo itself, as it is asked and kept.
    said() {
        const { view, lamp, from } = this.facts;
        return { view: view || "front", ...(lamp && { lamp }), ...(from && { from }) };
    }

    shown(reading) {
        this.takeAsk(reading.ask);
        this.wrong.show(warningsOf(reading, this.answer.warnings));
        if (reading.shown?.length) this.reading.show(reading.shown);
        else this.reading.wait(missing(this.viewer.marks.plain()) || "There is nothing to compare on this photo yet.");
        performance.mark("reading shown");
    }

    // Which states are asked for follows from the marks.
    takeAsk(ask) {
        if (ask === undefined || JSON.stringify(ask) === JSON.stringify(this.answer.ask)) return;
        this.answer.ask = ask;
        this.keeping.drawStates();
    }

    refused(error) {
        const { viewer } = this;
        if (error.code === "more-gone") {
            tell("One of the photos that were read with it is gone; it is read without that one.");
            this.together.forget(error.subject);
            return;
        }
        if (error.code === "no-link") this.again = () => this.read();
        const mark = error.subject ? viewer.marks.named(error.subject) : null;
        viewer.blame(mark ? mark.name : "");
        if (mark && !viewer.selected && !viewer.drawing) viewer.select(mark.id);
        const show = mark
            ? () => {
                  viewer.select(mark.id, { reveal: true });
                  viewer.stage.root.scrollIntoView({ block: "nearest" });
              }
            : null;
        this.reading.refuse(error, show);
        this.wrong.show(warningsOf(null, this.answer.photo.warnings), "It could not be read: why stands below.");
        performance.mark("reading shown");
    }

    async around(mark) {
        const answer = await post(
            at("uploads", this.upload, "around"),
            { marks: this.viewer.marks.plain(), patch: mark.name },
            this.page.signal,
        );
        return answer.marks || [];
    }

    // Parts of the job that were seen from this side.
    names(role) {
        return (this.state?.parts || [])
            .filter((part) => part.role === role && this.isHere(part))
            .map((part) => part.name);
    }

    isHere(part) {
        const photo = (this.state?.photos || []).find((one) => one.number === part.photo);
        return !photo || photo.view === this.facts.view;
    }

    // ---- Saved on this device ------------------------------------------------------------------

    // `early`: the program has not proposed its marks yet.
    save() {
        const key = this.ready ? this.upload : this.item?.id;
        if (!key) return;
        const marks = this.viewer.marks.plain({ proposals: true });
        const { answered, states, note, allDry, more } = this.saved;
        store
            .put("marks", key, { marks, facts: this.facts, answered, states, note, allDry, more, early: !this.ready })
            .catch(() => {});
    }

    factsChanged() {
        const { facts, item } = this;
        this.together.draw();
        return facts.view !== this.answer?.view && this.ready && item?.blob ? this.sendFor(facts.view) : this.read();
    }

    // The program carries the marks of the side that a photo was sent for. Sent for another it goes up once more; what a person
    // placed stays, what the program gave and nobody moved does not.
    async sendFor(view) {
        const { item, viewer, upload } = this;
        const same = (mark) => `${mark.name} ${JSON.stringify(mark.polygon)}`;
        const given = (this.answer.marks || []).map(same);
        this.ready = false;
        this.answer = null;
        this.upload = "";
        this.saved.answered = {};
        viewer.setMarks(viewer.marks.plain({ proposals: true }).filter((mark) => !given.includes(same(mark))));
        this.save();
        this.questions.draw();
        this.reading.wait(`Reading it as ${view} …`);
        await store.drop("marks", upload).catch(() => {});
        await remove(at("uploads", upload)).catch(() => {}); // else it waits there until it is dropped
        item.view = view;
        await queue.sendAgain(item);
        return this.run().catch((error) => this.failed(error));
    }
}
