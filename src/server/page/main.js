// main.js: from an address to a screen. Each state of the page has its own address behind the #, so back, reload and a link
// sent to another phone work. A screen is a module of screens/ whose default export is
//
//     async function show(page)        page: as made by `newPage` below
//
// It fills page.root. Nothing else is asked of it: what it must undo on leaving it hangs on page.signal.

import { button, el, fill, go, trouble, tell } from "./dom.js";
import { link } from "./api.js";
import * as outbox from "./outbox.js";
import { watchJob, forgetJob } from "./watch.js";

// Pattern, module, heading until the screen gives its own, where the way back leads. ":job" is one part of the address.
const SCREENS = [
    ["", "jobs", "Jobs"],
    ["pair", "pair", "Let this device in"],
    ["shelf", "shelf", "Shelf of dyes", "#/"],
    ["help", "help", "How to photograph", "#/"],
    ["stepboard", "stepboard", "Photograph a step board", "#/shelf"],
    ["stepboard/:upload", "stepboard", "Mark its strips", "#/shelf"],
    ["job/:job", "bench", "The job", "#/"],
    ["job/:job/new", "photo", "Photograph"],
    ["job/:job/upload/:upload", "photo", "Photo"],
    ["job/:job/photo/:photo", "photo", "Photo"],
    ["job/:job/plan", "plan", "What to lay today"],
    ["job/:job/plan/:patch", "next", "What to lay next"],
    ["job/:job/log", "log", "Log something else"],
    ["job/:job/history", "history", "History"],
    ["job/:job/lamps", "lamps", "Under another lamp"],
    ["job/:job/report", "report", "Report"],
];
const AGAIN_MS = 4000;
const NEWS_MS = 15000;

const head = document.getElementById("head");
const screen = document.getElementById("screen");
let leaving = new AbortController();
let shown = 0;
let arriving = false; // at an address whose screen did not stand yet
let current = {}; // place and page on screen
let settled = false; // the screen stands, so that where it is scrolled to is the person's doing

function matched(pattern, parts) {
    const wanted = pattern.split("/");
    if (wanted.length !== parts.length) return null;
    const names = {};
    for (const [i, part] of wanted.entries()) {
        if (part.startsWith(":")) names[part.slice(1)] = parts[i];
        else if (part !== parts[i]) return null;
    }
    return names;
}

// "#/job/lid/plan?volume=200" as { module, names, query, back }; null where no screen has that address.
export function placeOf(hash) {
    const [path, query = ""] = hash.replace(/^#\/?/, "").split("?");
    let parts;
    try {
        parts = path.split("/").map(decodeURIComponent);
    } catch {
        return null;
    }
    if (path.startsWith("pair="))
        return {
            module: "pair",
            heading: "Let this device in",
            names: { code: path.slice(5) },
            query: new URLSearchParams(),
        };
    for (const [pattern, module, heading, back] of SCREENS) {
        const names = matched(pattern, parts);
        if (names) return { module, heading, names, query: new URLSearchParams(query), back };
    }
    return null;
}

// What a screen is given.
function newPage(place) {
    const page = {
        root: null, // the element to fill, set below
        names: place.names, // the parts of the address that a pattern names: page.names.job
        query: place.query,
        signal: leaving.signal, // aborted when the screen is left
        // The heading, and the name of the tab.
        title(words, job = "") {
            head.textContent = words;
            document.title = `${words}${job ? `, ${job}` : ""} - huewright`;
        },
        // Where "back to" in the head leads, in place of what the table above says.
        way(words, address) {
            fill(document.getElementById("way"), address ? go(words, address, "quiet") : "");
        },
        // Draws this screen anew; the place on it is kept.
        again: () => show(false),
        // Calls that when the job grew by something that this page did not log.
        onChange(call) {
            place.changed = call;
        },
        // What went wrong, above all else; the last one only.
        trouble(error) {
            page.root.querySelector(":scope > .trouble")?.remove();
            page.root.prepend(trouble(error));
        },
        tell,
    };
    return page;
}

function wayBack(place) {
    const job = place.names.job;
    const way = document.getElementById("way");
    if (place.back) fill(way, go(place.back === "#/shelf" ? "Back to the shelf" : "All jobs", place.back, "quiet"));
    else if (job) fill(way, go("Back to the job", `#/job/${encodeURIComponent(job)}`, "quiet"));
    else fill(way);
}

// A place to scroll to is kept with each entry of the browser's history.
function keepScroll() {
    if (settled && history.state?.key) sessionStorage.setItem(`scroll ${history.state.key}`, String(scrollY));
}

function scrollToKept() {
    const key = history.state?.key;
    const kept = key ? Number(sessionStorage.getItem(`scroll ${key}`) || 0) : 0;
    if (!key) history.replaceState({ key: `${Date.now()}-${shown}` }, "");
    scrollTo(0, kept);
}

// `moved`: another screen than before, so the heading takes the focus once it stands and a reader says where one is; drawn
// anew before that, it is still one that a person has just come to.
async function show(moved) {
    const mine = ++shown;
    arriving ||= moved;
    settled = false;
    document.getElementById("news").hidden = true;
    leaving.abort();
    leaving = new AbortController();
    const place = placeOf(location.hash);
    const held = placeHeld();
    if (!place) {
        head.textContent = "No such page";
        fill(screen, el("p", {}, "This address leads nowhere."), go("All jobs", "#/", "main"));
        return;
    }
    wayBack(place);
    const page = newPage(place);
    current = { place, page };
    page.root = el("div", { class: `screen ${place.module}` });
    // A screen fills its root while it stands in the page; where it was drawn before, the old one stays until the new one is whole.
    if (moved) page.title(place.heading, place.names.job);
    if (moved) fill(screen, el("p", { class: "waiting" }, "One moment …"), page.root);
    try {
        const module = await import(`./screens/${place.module}.js`);
        if (mine !== shown) return;
        await module.default(page);
        if (mine === shown) fill(screen, page.root);
    } catch (error) {
        if (mine !== shown || error.name === "AbortError") return;
        failed(asTrouble(error), mine);
        return;
    }
    if (mine !== shown) return;
    if (place.names.job) watchJob(place.names.job, () => news(place, page), leaving.signal);
    else forgetJob();
    if (!arriving) holdPlace(held);
    else {
        // A page just loaded is read from its top.
        if (mine > 1) head.focus({ preventScroll: true });
        scrollToKept();
    }
    arriving = false;
    settled = true;
}

// Says what went wrong in place of the screen, once; without a link it tries again by itself.
function failed(error, mine) {
    const told = trouble(error);
    const stands = screen.querySelector(":scope > .trouble");
    if (stands?.textContent !== told.textContent) {
        const again = button("Try again", () => show(true), "main");
        fill(screen, told, el("p", {}, again));
    }
    if (error.noLink) setTimeout(() => mine === shown && show(false), AGAIN_MS);
}

// Another device logged something: said, and drawn anew unless the screen sees to that itself (where words stand half typed).
async function news(place, page) {
    const told = document.getElementById("news");
    const again = async () => {
        await page.again();
        told.hidden = true;
    };
    if (place.changed) {
        await place.changed();
        fill(told, el("p", {}, "Changed on another device. What you have here is kept."));
    } else if (typing()) {
        fill(told, el("p", {}, "Changed on another device."), button("Show how it stands now", again));
    } else {
        await page.again();
        fill(told, el("p", {}, "Changed on another device: this is how it stands now."));
    }
    told.hidden = false;
    setTimeout(() => {
        told.hidden = told.querySelector("button") === null;
    }, NEWS_MS);
}

// Is something half entered on this screen?
function typing() {
    const at = document.activeElement;
    return screen.contains(at) && at.matches("input, select, textarea");
}

// What a person has opened and stands on, to be found again in a screen that is drawn anew: by its words, or by the heading
// that it stands below and its words.
const nameOf = (element) => element.getAttribute("aria-label") || element.textContent;

function keyOf(summary) {
    const heading = summary.closest("section")?.querySelector("h2, h3");
    return `${heading ? nameOf(heading) : ""}: ${nameOf(summary)}`;
}

function placeHeld() {
    const at = screen.contains(document.activeElement) ? document.activeElement : null;
    const open = [...screen.querySelectorAll("details[open] > summary")].map(keyOf);
    return { scroll: scrollY, focus: at && nameOf(at), open };
}

function holdPlace({ scroll, focus, open }) {
    for (const summary of screen.querySelectorAll("details > summary"))
        if (open.includes(keyOf(summary))) summary.parentElement.open = true;
    if (focus !== null && document.activeElement === document.body) {
        const same = [...screen.querySelectorAll("button, a, summary")].find((element) => nameOf(element) === focus);
        (same || head).focus({ preventScroll: true });
    }
    scrollTo(0, scroll);
}

function asTrouble(error) {
    if (error.what) return error;
    console.error(error);
    if (!link.up || /import/i.test(error.message))
        return {
            what: "This part of the page could not be fetched.",
            next: "Is the computer on, and this phone in the same network? Then try again.",
        };
    return {
        what: "The page itself went wrong here.",
        next: "What was logged is kept. Load the page anew; if it comes again, the command line does the same.",
    };
}

// All screens are fetched once the first one stands, so that a link lost later does not take them away.
function fetchOthers() {
    for (const name of new Set(SCREENS.map(([, module]) => module))) import(`./screens/${name}.js`).catch(() => {});
}

function linkChanged() {
    document.getElementById("link").textContent = link.up
        ? ""
        : "No link to the program. What you enter is kept on this device.";
    document.body.classList.toggle("no-link", !link.up);
}

// What went out late by itself changed the job that is on screen.
function sentLate({ detail }) {
    if (detail.late && current.page && current.place.names.job === detail.item.job)
        (current.place.changed || current.page.again)();
}

history.scrollRestoration = "manual";
addEventListener("hashchange", () => {
    // The link past the head is an address of its own kind: it moves the focus and shows nothing else.
    if (location.hash === "#main") return;
    show(true);
});
document.getElementById("skip").addEventListener("click", (event) => {
    event.preventDefault();
    head.focus();
});
addEventListener("scroll", keepScroll, { passive: true });
link.addEventListener("change", linkChanged);
outbox.outbox.addEventListener("sent", sentLate);
outbox.start(document.getElementById("outbox"));
show(true).then(() => setTimeout(fetchOthers, 300));
