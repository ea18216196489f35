// queue.js: photos on their way from this device to the program. A chosen photo is put down in the browser's own store first, so
// that neither a lost link nor a reload loses it; then they go up one after the other.
//
//     const item = await queue.add(file, { job, view, lamp, from });
//     queue.changes.addEventListener("change", () => …);        // any item, its state or share
//
// An item: { id, name, bytes, at, job, view, lamp, from, state, share, upload, trouble, blob }
// state: "waiting", "sending" (share: 0 to 1), "sent" (upload: its id at the program), "refused" (trouble), "keeping" (its marks wait
// in the outbox), "kept" (in the job), "unread" (sent, but the program cannot read it).
// Until it is kept or dropped the device holds its blob, to be shown at once.

import { get as ask, link } from "../api.js";
import * as store from "../store.js";

const AGAIN_MS = 4000;

export const changes = new EventTarget();

let items = [];
let taken = null; // resolves once those of an earlier visit are there
let running = false;
let timer = 0;

const tell = () => changes.dispatchEvent(new Event("change"));

function save(item) {
    const { share, trouble, ...kept } = item;
    return store.put("photos", item.id, kept);
}

// Those that an earlier visit left, once.
export function start() {
    taken =
        taken ||
        store
            .all("photos")
            .catch(() => [])
            .then((kept) => {
                const before = kept
                    .filter((item) => !items.some((other) => other.id === item.id))
                    .map((item) => ({
                        ...item,
                        state: item.state === "sending" ? "waiting" : item.state,
                        share: 0,
                        trouble: null,
                    }));
                items = [...before, ...items].sort((a, b) => a.at - b.at);
                pump();
            });
    return taken;
}

export const all = () => items;
export const ofJob = (job) => items.filter((item) => item.job === job);
export const ofUpload = (upload) => items.find((item) => item.upload === upload) || null;

// Resolves when it is in this device's store; where that is full it is still sent, and `safe` is false.
export async function add(file, { job = "", view = "", lamp = "", from = "" } = {}) {
    const item = {
        id: store.newId(),
        name: file.name || "photo",
        bytes: file.size,
        at: Date.now(),
        job,
        view,
        lamp,
        from,
        state: "waiting",
        share: 0,
        upload: "",
        trouble: null,
        blob: file,
        safe: true,
    };
    items.push(item);
    await save(item).catch(() => {
        item.safe = false;
    });
    tell();
    pump();
    return item;
}

export async function note(item, properties) {
    Object.assign(item, properties);
    if (items.includes(item) && item.state !== "kept") await save(item).catch(() => {});
    tell();
}

// It is in the job now, or nobody wants it: this device forgets it.
export async function kept(item) {
    item.state = "kept";
    item.blob = null;
    await forget(item);
}

// The program has it no longer: once more.
export async function sendAgain(item) {
    await note(item, { state: "waiting", upload: "", share: 0 });
    pump();
}

export async function drop(item) {
    items = items.filter((other) => other !== item);
    item.request?.abort();
    await forget(item);
    pump();
}

async function forget(item) {
    await store.drop("photos", item.id).catch(() => {});
    tell();
}

// What stands below a small picture.
export function words(item) {
    if (item.state === "sending") return item.share < 1 ? `sending, ${Math.floor(item.share * 100)} %` : "arriving";
    return {
        waiting: "waiting",
        sent: "ready",
        refused: "refused",
        unread: "cannot be read",
        keeping: "kept here, goes out by itself",
        kept: "kept",
    }[item.state];
}

// ---- Sending -------------------------------------------------------------------------

async function pump() {
    if (running) return;
    const item = items.find((one) => one.state === "waiting" && one.blob);
    if (!item) return;
    running = true;
    clearTimeout(timer);
    item.state = "sending";
    item.share = 0;
    tell();
    const outcome = await send(item);
    running = false;
    if (outcome === "again") {
        if (item.state === "sending") item.state = "waiting";
        timer = setTimeout(pump, AGAIN_MS);
        tell();
        return;
    }
    if (items.includes(item)) await save(item).catch(() => {});
    tell();
    pump();
}

// fetch tells nothing of what has gone up, so this is the one place for XMLHttpRequest. Resolves to "done" or "again".
function send(item) {
    return new Promise((done) => {
        const request = new XMLHttpRequest();
        const query = new URLSearchParams({
            name: item.name,
            ...(item.job && { job: item.job }),
            ...(item.view && { view: item.view }),
        });
        Object.defineProperty(item, "request", {
            value: request,
            configurable: true,
            writable: true,
            enumerable: false,
        });
        request.open("POST", `/api/uploads?${query}`);
        request.setRequestHeader("Content-Type", "application/octet-stream");
        request.upload.addEventListener("progress", (event) => {
            if (event.lengthComputable) item.share = event.loaded / event.total;
            tell();
        });
        request.addEventListener("load", () => done(answered(item, request)));
        request.addEventListener("abort", () => done("done"));
        request.addEventListener("error", () => {
            ask("hello").catch(() => {}); // so that the head of the page says whether there is a link
            done("again");
        });
        request.send(item.blob);
    });
}

function answered(item, request) {
    let told = {};
    try {
        told = JSON.parse(request.responseText);
    } catch {
        /* no JSON: the words below stand in */
    }
    if (request.status === 201 && told.upload) {
        Object.assign(item, { state: "sent", share: 1, upload: told.upload });
        return "done";
    }
    if (request.status === 503 || request.status === 408) return "again";
    if (told.error?.code === "not-paired") {
        ask("jobs").catch(() => {}); // leads to where the device is paired
        return "again";
    }
    item.state = "refused";
    item.trouble = {
        what: told.error?.what || `The program answered with ${request.status}.`,
        next: told.error?.next || "",
    };
    return "done";
}

link.addEventListener("change", () => {
    if (link.up) pump();
});
addEventListener("online", () => pump());
