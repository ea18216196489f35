// lamps.js: the same state under two lamps, side by side: does the match hold?

import { at, getKept } from "../api.js";
import { el, go } from "../dom.js";
import { jobAddress, loadJob } from "../work.js";

export default async function show(page) {
    const [state, lamps] = await Promise.all([
        loadJob(page, { bar: false }),
        getKept(at("jobs", page.names.job, "lamps"), page.signal),
    ]);
    page.title("Under another lamp", state.title);
    const any = lamps.patches.some((p) => p.pairs.length);
    page.root.append(
        any
            ? el("p", { class: "sheet pre" }, lamps.text.trim())
            : el(
                  "p",
                  { class: "none" },
                  "No two photos of one state under two lamps yet. Before the last pass photograph the repair a second time under the customer's lamp: same state, same card. Name both lamps.",
              ),
        any ? "" : el("p", {}, lamps.usual),
        go("Photograph under another lamp", jobAddress(page.names.job, "new"), "main"),
    );
}
