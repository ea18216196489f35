// bench.js: a job as it stands: each repair beside its old wood, the verdict, what is next.

import { at, get } from "../api.js";
import { el, go, swatches } from "../dom.js";
import * as store from "../store.js";
import {
    clock,
    gapWords,
    jobAddress,
    listed,
    loadJob,
    passesWords,
    picture,
    repairsOf,
    timeWords,
    verdictBlock,
    warningsBox,
} from "../work.js";

function photoWords(state, part) {
    const photo = state.photos.find((p) => p.number === part.photo);
    return photo
        ? `Photo ${photo.number}, ${photo.view || "no view named"}${photo.lamp ? `, ${photo.lamp}` : ""}, ${timeWords(photo.at)}`
        : "";
}

function nextSteps(page, state, part) {
    const job = page.names.job;
    const laid = part.since_photo > 0;
    const old = laid || part.photo_is_old; // coats and what was taken off change it, too
    const done = laid ? `${passesWords(part.since_photo)} laid` : "Something was laid on it or beside it, or taken off,";
    const photograph = go("Photograph it", jobAddress(job, "new"), old ? "main" : "");
    const plan = go("What to lay next", jobAddress(job, "plan", part.name), old ? "" : "main");
    return [
        old ? el("p", {}, `${done} since that photo: the swatches show it as it was before.`) : null,
        part.wait ? el("p", { class: "strong" }, clock(part.wait, state, page.signal)) : null,
        el("div", { class: "row" }, old ? [photograph, plan] : [plan, photograph]),
    ];
}

// The gap as the report draws it; asked for once it is opened.
function gapDrawn(page, part) {
    const box = el("details", {}, el("summary", {}, "The gap, drawn"));
    box.addEventListener("toggle", () => box.append(picture(page, "rulers", { patch: part.name })), { once: true });
    return box;
}

function look(page, state, part) {
    if (!part.gap) return null;
    const address = jobAddress(page.names.job, "photo", part.photo);
    return [
        swatches(part.screen, part.name, true),
        el("p", { class: "sides", "aria-hidden": "true" }, el("span", {}, "repair"), el("span", {}, "old wood")),
        part.photo ? el("p", { class: "small soft" }, el("a", { href: address }, photoWords(state, part))) : null,
    ];
}

function repair(page, state, part) {
    const said = part.gap
        ? [verdictBlock(part.verdict, part.says), el("p", {}, gapWords(part.gap))]
        : el("p", { class: "none" }, "Not read yet. Photograph it with the grey card beside it.");
    const lies = part.lies ? el("p", { class: "soft" }, `State: ${part.lies}.`) : null;
    const words = el("div", {}, said, lies, nextSteps(page, state, part), part.gap ? gapDrawn(page, part) : null);
    return el(
        "section",
        { class: "sheet repair" },
        el("h2", {}, part.name),
        el("div", { class: "two" }, el("div", {}, look(page, state, part)), words),
    );
}

// Photos on their way into this job: on this device, or on the program's computer and not looked at yet.
async function underWay(page) {
    const job = page.names.job;
    const here = (await store.all("photos").catch(() => [])).filter((p) => p.job === job && p.state !== "sent").length;
    const there = (await get("uploads", page.signal).catch(() => ({ uploads: [] }))).uploads.filter(
        (u) => u.job === job,
    );
    return [
        here
            ? el(
                  "p",
                  { class: "sheet" },
                  here === 1 ? "1 photo waits on this device. " : `${here} photos wait on this device. `,
                  el("a", { href: jobAddress(job, "new") }, "Send and look at them"),
              )
            : null,
        there.length
            ? el(
                  "div",
                  { class: "sheet" },
                  el("p", { class: "strong" }, "Not kept in the job yet: look at it, mark it, keep it."),
                  el(
                      "ul",
                      { class: "plain" },
                      there.map((u) => {
                          const words = `${u.name || "A photo"}, ${timeWords(u.at)}`;
                          return el("li", {}, go(words, jobAddress(job, "upload", u.upload)));
                      }),
                  ),
              )
            : null,
    ];
}

function menu(page, state) {
    const job = page.names.job;
    const any = repairsOf(state).some((part) => part.gap);
    // Nothing can be said before the next photo.
    const look = any && repairsOf(state).every((part) => part.since_photo > 0 || part.photo_is_old);
    const plan = any ? go("What to lay today", jobAddress(job, "plan"), look ? "" : "main") : null;
    const photo = go("Photograph", jobAddress(job, "new"), any && !look ? "" : "main");
    return el(
        "nav",
        { class: "menu", "aria-label": "This job" },
        look ? [photo, plan] : [plan, photo],
        go("Log something else", jobAddress(job, "log")),
        go("History", jobAddress(job, "history")),
        any ? go("Report", jobAddress(job, "report")) : null,
        any ? go("Another lamp", jobAddress(job, "lamps")) : null,
    );
}

export default async function show(page) {
    const [state, under] = await Promise.all([loadJob(page), underWay(page)]);
    const repairs = repairsOf(state);
    const old = state.parts.filter((part) => part.role === "target");
    page.title(state.title || state.name, "");
    page.root.append(...[menu(page, state), ...under.filter(Boolean), warningsBox(state.warnings)].filter(Boolean));
    if (!repairs.length && !under.some(Boolean))
        page.root.append(
            el(
                "p",
                { class: "none" },
                "No repair is marked yet. Lay a grey card beside the repair, photograph both, and mark the repair and the old wood around it.",
            ),
        );
    page.root.append(...repairs.map((part) => repair(page, state, part)));
    if (old.length) page.root.append(el("p", { class: "soft" }, `Old wood: ${listed(old.map((part) => part.name))}.`));
    if (repairs.length)
        page.root.append(
            el(
                "p",
                {},
                el(
                    "a",
                    { href: `/api/${at("jobs", page.names.job, "pack")}`, download: "" },
                    "Keep the whole job as one file",
                ),
            ),
        );
}
