// report.js: the report, for whom: shown as it prints, to print, to save, to hand on.

import { at } from "../api.js";
import { button, el, go } from "../dom.js";
import { jobAddress, loadJob, repairsOf } from "../work.js";

const READERS = [
    ["customer", "For the customer"],
    ["shop", "For the shop"],
    ["spray-room", "For the spray room"],
];

function readers(job, chosen) {
    return el(
        "nav",
        { class: "menu", "aria-label": "Report for whom" },
        READERS.map(([name, words]) =>
            go(words, `${jobAddress(job, "report")}?for=${name}`, "", {
                "aria-current": name === chosen ? "page" : null,
            }),
        ),
    );
}

// To print, to keep, to hand on.
function uses(job, address, frame) {
    return el(
        "div",
        { class: "menu" },
        button("Print it", () => frame.contentWindow.print(), "main"),
        go("Save it as a file", `${address}?download=1`, "", { download: "" }),
        go("Show it alone", address, "", { target: "_blank", rel: "noopener" }),
        go("The whole job as one file", `/api/${at("jobs", job, "pack")}`, "", { download: "" }),
    );
}

export default async function show(page) {
    const { job } = page.names;
    const state = await loadJob(page, { bar: false });
    const [name, words] = READERS.find(([reader]) => reader === page.query.get("for")) || READERS[0];
    const title = `Report ${words.replace("F", "f")}`;
    page.title(title, state.title);
    if (!repairsOf(state).some((part) => part.gap)) {
        page.root.append(
            el(
                "p",
                { class: "none" },
                "Nothing is read yet, so there is nothing to report. Photograph the repair first.",
            ),
            go("Photograph", jobAddress(job, "new"), "main"),
        );
        return;
    }
    const address = `/api/${at("jobs", job, "report", name)}`;
    // The report runs no scripts; it is let print from here.
    const frame = el("iframe", { class: "frame", src: address, title, sandbox: "allow-same-origin allow-modals" });
    page.root.append(readers(job, name), uses(job, address, frame), frame);
}
