// history.js: the way of each repair towards the old wood as a picture and in words, then every event.

import { at, getKept } from "../api.js";
import { askingButton, el, tell } from "../dom.js";
import { log } from "../outbox.js";
import { gapWords, jobAddress, loadJob, picture, repairsOf, timeWords } from "../work.js";

const BY_HAND = new Set(["photo_added", "pass_laid", "coat_laid", "taken_off", "jar_mixed", "note", "approval"]);

// The log as the program words it, cut at its events: a line that starts with a time and the event's number, and the indented
// lines below it.
export function entriesOf(told) {
    const found = [];
    let after = false;
    for (const line of told.split("\n").slice(1)) {
        const head = /^\d{4}-\d\d-\d\d \d\d:\d\d UTC +(\d+) +(.*)$/.exec(line);
        if (head) found.push({ number: Number(head[1]), words: head[2], more: [] });
        else if (found.length && !line.trim()) after = true;
        else if (found.length && !after) found[found.length - 1].more.push(line);
    }
    return found;
}

// What the log says behind its events: the parts now, hours, jars.
function tailOf(told) {
    const lines = told.split("\n");
    const last = lines.reduce((at, line, i) => (/^\d{4}-\d\d-\d\d \d\d:\d\d UTC/.test(line) ? i : at), 0);
    const gap = lines.findIndex((line, i) => i > last && !line.trim());
    return gap < 0
        ? ""
        : lines
              .slice(gap + 1)
              .join("\n")
              .trim();
}

async function withdraw(page, event) {
    const words = `event ${event.number} withdrawn`;
    try {
        await log(at("jobs", page.names.job, "withdraw"), { event: event.number }, words, page.names.job);
        tell(`Event ${event.number} withdrawn.`);
        await page.again();
    } catch (error) {
        page.trouble(error);
    }
}

function withdrawButton(page, event, words) {
    return askingButton(
        "It did not happen",
        `It did not happen: ${words}`,
        "Withdraw it? The line stays in the log and no longer counts.",
        "Withdraw it",
        () => withdraw(page, event),
    );
}

// Lines that are indented twice are numbers, for those who ask for them.
function moreWords(lines) {
    const cut = lines.map((line) => line.replace(/^ {4}/, ""));
    const said = cut.filter((line) => !line.startsWith(" "));
    const numbers = cut.filter((line) => line.startsWith(" ")).map((line) => line.trim());
    return [
        said.length ? el("p", { class: "pre" }, said.join("\n")) : null,
        numbers.length
            ? el(
                  "details",
                  {},
                  el("summary", {}, "In numbers"),
                  numbers.map((line) => el("p", {}, line)),
              )
            : null,
    ];
}

function eventItem(page, event, told) {
    const words = told ? told.words : event.kind;
    return el(
        "li",
        {},
        el("p", { class: "small soft" }, `${timeWords(event.at)}, event ${event.number}`),
        el("p", { class: event.withdrawn_by ? "" : "strong" }, words),
        told ? moreWords(told.more) : null,
        event.kind === "photo_added" && !event.withdrawn_by
            ? el("p", {}, el("a", { href: jobAddress(page.names.job, "photo", event.number) }, "Look at this photo"))
            : null,
        BY_HAND.has(event.kind) && !event.withdrawn_by ? withdrawButton(page, event, words) : null,
    );
}

export default async function show(page) {
    const [state, history] = await Promise.all([
        loadJob(page),
        getKept(at("jobs", page.names.job, "history"), page.signal),
    ]);
    page.title("History", state.title);
    const told = new Map(entriesOf(history.text).map((entry) => [entry.number, entry]));
    const seen = repairsOf(state).filter((part) => part.gap);
    const all = page.query.get("all") === "1";
    const listed = history.events
        .filter((event) => told.has(event.number) && (all || event.kind !== "plan_shown"))
        .reverse();
    const other = all ? ["Leave out what was advised", ""] : ["Show what was advised, too", "?all=1"];
    const tail = tailOf(history.text);
    page.root.append(
        el(
            "div",
            { class: "two" },
            seen.map((part) =>
                el(
                    "section",
                    {},
                    el("h2", {}, part.name),
                    el("p", {}, gapWords(part.gap)),
                    picture(page, "path", { patch: part.name }),
                ),
            ),
        ),
        el(
            "section",
            {},
            el("h2", {}, "All that was logged, the newest first"),
            el("p", {}, el("a", { href: `${jobAddress(page.names.job, "history")}${other[1]}` }, other[0])),
            listed.length
                ? el(
                      "ol",
                      { class: "events" },
                      listed.map((event) => eventItem(page, event, told.get(event.number))),
                  )
                : el("p", { class: "none" }, "Nothing yet."),
        ),
        tail ? el("section", {}, el("h2", {}, "Summed up"), el("p", { class: "pre sheet" }, tail)) : "",
    );
}
