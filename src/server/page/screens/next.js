// next.js: one repair: what to lay next, large; what it will look like; why, how sure, how to mix.

import { askKept, at } from "../api.js";
import { button, el, field, go, swatches } from "../dom.js";
import { missing, numberIn, numberInput } from "../forms.js";
import { waiting } from "../outbox.js";
import { gapWords, jobAddress, liquidWords, loadJob, logAndShow, passesWords, picture } from "../work.js";
import { cautions } from "./plan.js";

function laying(page, state, advice, patch) {
    const { jar, liquid, passes } = advice.next;
    if (waiting(page.names.job).some((item) => item.address.endsWith("/passes") && item.body.patches.includes(patch)))
        return el("p", { class: "none" }, "Laid; not sent yet.");
    const words = `${passesWords(passes)} of ${jar ? `jar ${jar}` : liquidWords(liquid)} on ${patch}`;
    return button(
        "Laid it",
        () => logAndShow(page, state, "passes", { patches: [patch], ...(jar ? { jar } : { liquid }), passes }, words),
        "main wide",
    );
}

function mixing(page, advice, says) {
    const { jar, liquid } = advice.next;
    const volume = numberInput("volume", { value: "50" });
    const mixed = () =>
        numberIn(volume) > 0
            ? logAndShow(page, null, "jars", { liquid, volume_ml: numberIn(volume) }, `a jar of ${liquidWords(liquid)}`)
            : missing(volume, "How many millilitres were mixed? A number, as 50.");
    return el(
        "section",
        {},
        el("h2", { class: "first" }, "The mix"),
        says.mix.map((line) => el("p", {}, line)),
        jar
            ? el("p", {}, `It stands mixed in jar ${jar}: stir it.`)
            : el(
                  "details",
                  {},
                  el("summary", {}, "Give the jar a number"),
                  field("Mixed, in millilitres", volume),
                  button("It is mixed", mixed),
              ),
    );
}

function more(says) {
    return says.more.length
        ? el(
              "details",
              { class: "sheet" },
              el("summary", {}, "Time, liquid, coats to come"),
              says.more.map((line) => el("p", {}, line)),
          )
        : null;
}

function optionWords(option) {
    const last = option.after[option.after.length - 1];
    const layers = option.layers.map((l) => `${passesWords(l.passes)} of ${liquidWords(l.liquid)}`).join(", then ");
    return `${layers}${option.guess ? " (a guess)" : ""}: the whole way, with looks between, to a gap of about ${last.de00.toFixed(1)} (${last.de00_low.toFixed(1)} to ${last.de00_high.toFixed(1)}).`;
}

function options(advice) {
    return advice.options.length > 1
        ? el(
              "details",
              { class: "sheet" },
              el("summary", {}, "Other ways"),
              el(
                  "ul",
                  {},
                  advice.options.slice(1).map((o) => el("li", {}, optionWords(o))),
              ),
              advice.other_ways ? el("p", {}, advice.other_ways) : null,
          )
        : null;
}

function beside(part) {
    return [
        swatches(part.screen, part.name, true),
        el("p", { class: "sides", "aria-hidden": "true" }, el("span", {}, "repair"), el("span", {}, "old wood")),
        el("p", {}, gapWords(part.gap)),
        part.photo_is_old ? el("p", {}, `As photo ${part.photo} shows it, before what was done since.`) : null,
    ];
}

// How it will look where something is to be laid, else how it stands.
function pictures(page, state, part, advice) {
    const { patch } = page.names;
    if (!advice.next) return picture(page, "rulers", { patch }, "How it stands");
    const view = state.photos.find((photo) => photo.number === part?.photo)?.view;
    return [
        picture(page, "looks", { patch }, "What it will look like, on your own photo"),
        picture(page, "piece", { view }, "The whole view after today's plan"),
    ];
}

const UNSAID = { head: "", then: "", after: "", risk: "", mix: [], guess: "", lamp: "", more: [] };

export default async function show(page) {
    const { job, patch } = page.names;
    page.way("Today's jars", jobAddress(job, "plan"));
    const state = await loadJob(page);
    const part = state.parts.find((p) => p.name === patch);
    page.title(`What to lay next on ${patch}`, state.title);
    const answer = await askKept(at("jobs", job, "advice"), { patch }, page.signal);
    const advice = answer.patches ? answer.patches[0] : answer;
    const says = { ...UNSAID, why: advice.why, ...advice.says };
    const otherwise = advice.next ? "" : advice.other_ways; // what else there is where dye does not help
    says.more = says.more.filter((line) => line !== otherwise);
    page.root.append(
        el("p", { class: "key huge" }, says.head || (advice.next ? "" : "Lay nothing now")),
        says.guess ? el("p", { class: "strong" }, says.guess) : "",
        says.then ? el("p", {}, says.then) : "",
        advice.next ? "" : el("p", { class: "strong" }, says.why),
        otherwise ? el("p", {}, otherwise) : "",
        el(
            "div",
            { class: "row" },
            advice.next ? laying(page, state, advice, patch) : null,
            go("Photograph it", jobAddress(job, "new"), advice.next ? "" : "main"),
            go("Laid something else", `${jobAddress(job, "log")}?what=pass`),
        ),
        el(
            "div",
            { class: "two" },
            el(
                "div",
                {},
                advice.next ? [el("h2", { class: "first" }, "Why"), el("p", {}, says.why)] : null,
                [says.after, says.risk, says.lamp].filter(Boolean).map((line) => el("p", {}, line)),
                advice.next ? mixing(page, advice, says) : null,
                part?.gap ? beside(part) : null,
                pictures(page, state, part, advice),
            ),
            el(
                "div",
                {},
                more(says),
                options(advice),
                cautions(answer),
            ),
        ),
    );
}
