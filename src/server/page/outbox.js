// outbox.js: whatever a person logs is put down on this device first, then sent, in the order in which it was entered. Where
// the link is lost it stays and goes out by itself later, after a reload too. Each carries an entry id made here, so that one
// sent twice is logged once.

import { Trouble, link, post } from "./api.js";
import * as store from "./store.js";
import { button, el, fill, sentence, tell } from "./dom.js";

const RETRY_MS = 4000;
const TOLD_MOST = 3; // the last ones
const TOLD = "told"; // among what was seen (store.js)

// "sent" (detail: { item, answer, late }; late: not while its sender waited) and "change" are told here.
export const outbox = new EventTarget();

let told = []; // { words, warnings } of what was logged and is to be looked at, until a person has read it
let items = []; // { entry, address, body, words, job, at, state: "waiting" | "sent" | "moved-on" | "refused", error, answer }
let sending = null;
let timer = 0;

// Logs `body` at `address` ("jobs/lid/passes"). `words` say what it is, for the case that it cannot be sent yet.
// Resolves with { answer } once the program has it, or with { waiting: true } where it is kept here for now.
// What the program refuses is thrown as a Trouble and no longer kept: the person still has it before them; but a "moved-on"
// stays, for them to decide. `job`: name of the job, so that what follows in it is told what was seen. `shown`: whoever waits for
// the answer shows all of it.
export async function log(address, body, words, job = "", { shown = false } = {}) {
    const entry = body.entry || store.newId();
    const item = {
        entry,
        address,
        body: { ...body, entry },
        words,
        job,
        shown,
        at: Date.now(),
        state: "waiting",
        error: null,
    };
    items.push(item);
    await store.put("outbox", entry, item).catch(() => {}); // a full device still may send
    await flush(entry);
    if (item.state === "refused") await forget(item); // the person still has it before them
    changed();
    if (item.state === "sent") return { answer: item.answer };
    if (item.state === "waiting") return { waiting: true };
    throw new Trouble(item.error);
}

// How many wait, of this job or of all.
export const waiting = (job = null) => items.filter((i) => job === null || i.job === job);

// Sends what waits, in order. `wanted`: the entry whose sender waits here for its outcome.
async function flush(wanted = "") {
    while (sending) await sending.catch(() => {});
    sending = sendAll(wanted);
    try {
        await sending;
    } finally {
        sending = null;
    }
    later();
}

async function sendAll(wanted) {
    for (const item of items.filter((one) => one.state === "waiting")) {
        await sendOne(item, item.entry !== wanted);
        if (item.state === "waiting") break; // no link, or busy: the others wait behind it
    }
}

async function sendOne(item, late) {
    try {
        item.answer = await post(item.address, item.body);
        item.state = "sent";
        await forget(item);
        followUp(item, item.answer);
        if (late || !item.shown) tellOf(item);
        outbox.dispatchEvent(new CustomEvent("sent", { detail: { item, answer: item.answer, late } }));
    } catch (error) {
        if (!(error instanceof Trouble)) throw error;
        if (error.noLink || ["busy", "not-paired"].includes(error.code) || error.status === 408) return;
        item.state = error.code === "moved-on" ? "moved-on" : "refused";
        item.error = {
            code: error.code,
            subject: error.subject,
            what: error.what,
            next: error.next,
            status: error.status,
        };
        await store.put("outbox", item.entry, item).catch(() => {});
    }
}

// The parts that an entry touches; null: the whole piece.
const partsOf = ({ body }) => body.patches || body.parts || null;

// What waits behind it in the same job was entered by a person who knew of this one. The program has just looked whether others
// touched its parts; so whatever touches no other parts has seen as far as this one reaches.
function followUp(item, answer) {
    const numbers = (answer.events || []).map((event) => event.number);
    if (!numbers.length || item.body.seen === undefined) return;
    const touched = partsOf(item);
    const within = (parts) => touched === null || (parts !== null && parts.every((name) => touched.includes(name)));
    for (const other of items.filter((one) => one.job === item.job && one.body.seen >= item.body.seen)) {
        if (!within(partsOf(other))) continue;
        other.body.seen = Math.max(other.body.seen, ...numbers);
        store.put("outbox", other.entry, other).catch(() => {});
    }
}

// What is to be said of something beside that it is logged: a jar that cannot have held as much, another lamp than before, a
// photo that could not be read with the others. It stands on every screen until a person has read it, after a reload too. Of a
// photo, what is wrong with the picture itself was said before it was kept.
function tellOf({ body, words, answer }) {
    const left = answer.kept ? 1 + (body.more?.length || 0) - answer.kept.length : 0;
    const warnings = [...(answer.job?.warnings || answer.warnings || []), ...leftWords(left)];
    if (!warnings.length) return;
    told = [...told, { words, warnings }].slice(-TOLD_MOST);
    store.put("seen", TOLD, told).catch(() => {});
}

function leftWords(left) {
    if (left < 1) return [];
    return left === 1
        ? ["One of the photos could not be read with the others: it is not in the job, and waits as before"]
        : [`${left} of the photos could not be read with the others: they are not in the job, and wait as before`];
}

async function forget(item) {
    items = items.filter((i) => i !== item);
    await store.drop("outbox", item.entry).catch(() => {});
}

function later() {
    clearTimeout(timer);
    if (items.some((i) => i.state === "waiting")) timer = setTimeout(() => flush().then(changed), RETRY_MS);
}

// ---- What the page shows of it -------------------------------------------------------

let place = null;

function changed() {
    outbox.dispatchEvent(new Event("change"));
    draw();
}

async function again(item, seen) {
    item.state = "waiting";
    item.error = null;
    if (seen !== undefined) item.body.seen = seen;
    await store.put("outbox", item.entry, item).catch(() => {});
    await flush();
    changed();
}

// What waits is on screen already where it can be seen; a question that needs an answer takes the focus.
export function attend() {
    place.scrollIntoView({ block: "start" });
    place.querySelector("button")?.focus({ preventScroll: true });
}

// It is not to be logged after all.
export async function dropIt(item) {
    await forget(item);
    tell(`Dropped: ${item.words}.`);
    changed();
}

function waitingBox(list) {
    return el(
        "div",
        { class: "outbox-box" },
        el("p", { class: "strong" }, `Not sent yet: ${list.map((i) => i.words).join("; ")}.`),
        el("p", {}, "It is kept on this device and goes out by itself when the link is back."),
        button("Send now", () => flush().then(changed)),
    );
}

// What a person can do about one that is held, beside dropping it.
function wayOn(item, photo) {
    if (item.state === "moved-on")
        // Without "seen" the program no longer asks whether it was seen.
        return button(photo ? "It shows that: keep it" : "Log mine as well", () => {
            delete item.body.seen;
            return again(item);
        });
    if (item.error.code === "more-gone")
        return button("Keep it without that one", () => {
            item.body.more = item.body.more.filter((upload) => upload !== item.error.subject);
            return again(item);
        });
    return button("Try again", () => again(item));
}

function heldBox(item) {
    const moved = item.state === "moved-on";
    const photo = item.address.endsWith("/keep");
    return el(
        "div",
        { class: "outbox-box", role: "alert" },
        el("p", { class: "strong" }, moved ? `Not logged yet: ${item.words}.` : `Could not be logged: ${item.words}.`),
        el("p", {}, sentence(item.error.what)),
        moved
            ? el("p", {}, photo ? sentence(item.error.next) : "Log yours as well, or drop it?")
            : item.error.next
              ? el("p", {}, sentence(item.error.next))
              : null,
        el(
            "div",
            { class: "row" },
            wayOn(item, photo),
            button(photo ? "Do not keep it" : "Drop mine", () => dropIt(item)),
        ),
    );
}

function toldBox(one) {
    const read = () => {
        told = told.filter((other) => other !== one);
        store.put("seen", TOLD, told).catch(() => {});
        draw();
    };
    return el(
        "div",
        { class: "outbox-box told", role: "status" },
        el("p", { class: "strong" }, `Logged: ${one.words}. Look at this:`),
        el(
            "ul",
            {},
            one.warnings.map((warning) => el("li", {}, sentence(warning.text || warning))),
        ),
        button("I have read it", read),
    );
}

function draw() {
    if (!place) return;
    const wait = items.filter((i) => i.state === "waiting" && !sending);
    const held = items.filter((i) => i.state !== "waiting");
    place.hidden = !wait.length && !held.length && !told.length;
    fill(place, wait.length ? waitingBox(wait) : null, held.map(heldBox), told.map(toldBox));
}

// Takes up what an earlier visit left, and sends it.
export async function start(where) {
    place = where;
    const kept = (await store.all("outbox").catch(() => [])).sort((a, b) => a.at - b.at);
    items = [...kept.filter((k) => !items.some((i) => i.entry === k.entry)), ...items];
    told = [...((await store.get("seen", TOLD).catch(() => null)) || []), ...told].slice(-TOLD_MOST);
    addEventListener("online", () => flush().then(changed));
    link.addEventListener("change", () => {
        if (link.up && !sending) flush().then(changed);
    });
    await flush();
    changed();
}
