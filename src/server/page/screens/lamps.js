// lamps.js: the same state under two lamps, side by side: does the match hold?

import { at, getKept } from "../api.js";
import { el, go, sentence } from "../dom.js";
import { jobAddress, loadJob } from "../work.js";

// "CANNOT BE TOLD for the lamp: …" as a sentence, its first words large.
function verdictLine(line) {
    const [, shout, rest] = /^([A-Z][A-Z ]+)(\b.*)$/.exec(line);
    const said = shout.trim().toLowerCase();
    return [el("span", { class: "key" }, said[0].toUpperCase() + said.slice(1)), ` ${rest.trim()}`];
}

// The program tells each repair in a block: its name, then a line for each lamp, the verdict, what to do. The verdict goes first.
function repair(block) {
    const [head, ...lines] = block.split("\n").map((line) => line.trim());
    if (!lines.length) return el("p", {}, head);
    const shouts = (line) => /^[A-Z]{2,} ?[A-Z]/.test(line);
    return el(
        "section",
        { class: "sheet" },
        el("h2", {}, head),
        lines.filter(shouts).map((line) => el("p", {}, verdictLine(line))),
        lines.filter((line) => !shouts(line)).map((line) => el("p", {}, sentence(line))),
    );
}

export default async function show(page) {
    const [state, lamps] = await Promise.all([
        loadJob(page, { bar: false }),
        getKept(at("jobs", page.names.job, "lamps"), page.signal),
    ]);
    page.title("Under another lamp", state.title);
    const any = lamps.patches.some((p) => p.pairs.length);
    page.root.append(
        any
            ? el("div", {}, lamps.text.trim().split(/\n\s*\n/).map(repair))
            : el(
                  "p",
                  { class: "none" },
                  "No two photos of one state under two lamps yet. Before the last pass photograph the repair a second time under the customer's lamp: same state, same card. Name both lamps.",
              ),
        any ? "" : el("p", {}, lamps.usual),
        go("Photograph under another lamp", `${jobAddress(page.names.job, "new")}?lamp=1`, "main"),
    );
}
