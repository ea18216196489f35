// report.js: the report, for whom: shown as it prints, to print, to save, to hand on.

import { at } from "../api.js";
import { button, el, go } from "../dom.js";
import { jobAddress, loadJob, repairsOf } from "../work.js";

const READERS = [
    ["customer", "For the customer"],
    ["shop", "For the shop"],
    ["spray-room", "For the spray room"],
];

export default async function show(page) {
    const { job } = page.names;
    const state = await loadJob(page, { bar: false });
    const reader = READERS.find(([name]) => name === page.query.get("for")) || READERS[0];
    page.title(`Report ${reader[1].replace("F", "f")}`, state.title);
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
    const address = `/api/${at("jobs", job, "report", reader[0])}`;
    const frame = el("iframe", {
        class: "frame",
        src: address,
        title: `Report ${reader[1].replace("F", "f")}`,
        sandbox: "allow-same-origin allow-modals",
    });
    page.root.append(
        el(
            "nav",
            { class: "menu", "aria-label": "Report for whom" },
            READERS.map(([name, words]) =>
                el(
                    "a",
                    {
                        class: "press",
                        href: `${jobAddress(job, "report")}?for=${name}`,
                        "aria-current": name === reader[0] ? "page" : null,
                    },
                    words,
                ),
            ),
        ),
        el(
            "div",
            { class: "menu" },
            button("Print it", () => frame.contentWindow.print(), "main"),
            el("a", { class: "press", href: `${address}?download=1`, download: "" }, "Save it as a file"),
            el("a", { class: "press", href: address, target: "_blank", rel: "noopener" }, "Show it alone"),
            el(
                "a",
                { class: "press", href: `/api/${at("jobs", job, "pack")}`, download: "" },
                "The whole job as one file",
            ),
        ),
        frame,
    );
}
