// api.js: asks the program. Every answer is JSON; what went wrong comes as a Trouble in words.

import * as store from "./store.js";

const BUSY_TRIES = 8;
const LINK_MS = 4000;

export class Trouble extends Error {
    // code: of the program, or "no-link"; what: what happened; next: what to do; status: of HTTP, 0 without a link.
    constructor({ code, subject, what, next, status }) {
        super(what);
        Object.assign(this, { code, subject: subject || "", what, next: next || "", status: status || 0 });
    }
    get noLink() {
        return this.code === "no-link";
    }
}

// Whether the program could be reached at the last try: "change" is sent when that turns.
export const link = Object.assign(new EventTarget(), { up: true });

// Asks now and then whether the link is back, so that whoever waits for that hears of it.
let asking = 0;

function linkIs(up) {
    if (link.up === up) return;
    link.up = up;
    clearInterval(asking);
    if (!up) asking = setInterval(() => get("hello").catch(() => {}), LINK_MS);
    link.dispatchEvent(new Event("change"));
}

function noLink() {
    return new Trouble({
        code: "no-link",
        what: "No link to the program just now.",
        next: "Is the computer on, and this phone in the same network? The page tries again by itself.",
    });
}

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

async function reach(address, options) {
    try {
        const response = await fetch(`/api/${address}`, { credentials: "same-origin", cache: "no-store", ...options });
        linkIs(true);
        return response;
    } catch (error) {
        if (error.name === "AbortError") throw error;
        linkIs(false);
        throw noLink();
    }
}

async function troubleOf(response) {
    let told = {};
    try {
        told = (await response.json()).error || {};
    } catch {
        /* no JSON: the words below stand in */
    }
    if (told.code === "not-paired" && !/^#\/?pair/.test(location.hash)) {
        sessionStorage.setItem("back-to", location.hash);
        location.hash = "#/pair";
    }
    return new Trouble({
        code: told.code || "answer",
        subject: told.subject,
        status: response.status,
        what: told.what || `The program answered with ${response.status}.`,
        next: told.next,
    });
}

// The answer as a Response; asks again while the program says that it is busy.
export async function raw(address, options = {}) {
    for (let tries = 1; ; tries += 1) {
        const response = await reach(address, options);
        if (response.ok) return response;
        const wrong = await troubleOf(response);
        if (wrong.code !== "busy" || tries >= BUSY_TRIES) throw wrong;
        await pause(300 * tries);
    }
}

// The link may be lost in the middle of an answer, too.
async function whole(response, kind) {
    try {
        return await response[kind]();
    } catch (error) {
        if (!(error instanceof TypeError)) throw error; // as AbortError
        linkIs(false);
        throw noLink();
    }
}

export async function get(address, signal) {
    return whole(await raw(address, { signal }), "json");
}

export async function text(address, signal) {
    return whole(await raw(address, { signal }), "text");
}

export async function post(address, body = {}, signal) {
    const headers = { "Content-Type": "application/json" };
    return whole(await raw(address, { method: "POST", signal, headers, body: JSON.stringify(body) }), "json");
}

export async function remove(address) {
    return whole(await raw(address, { method: "DELETE" }), "json");
}

// As get, but without a link it answers with what was last seen: {…, keptAt: when}. For screens that are worth reading even so.
export const getKept = (address, signal) => orKept(address, () => get(address, signal));

// The same for a question that is posted.
export const askKept = (address, body, signal) =>
    orKept(`${address} ${JSON.stringify(body)}`, () => post(address, body, signal));

async function orKept(key, ask) {
    try {
        const answer = await ask();
        store.put("seen", key, { answer, at: Date.now() }).catch(() => {});
        return answer;
    } catch (error) {
        const kept = error.noLink ? await store.get("seen", key).catch(() => null) : null;
        if (!kept) throw error;
        return { ...kept.answer, keptAt: kept.at };
    }
}

// Parts of an address, joined and escaped: at("jobs", J, "passes").
export function at(...parts) {
    return parts.map((part) => encodeURIComponent(part)).join("/");
}
