// strip.js: the photos of a job that are on their way, as small pictures with words; one is on the bench.

import { at } from "../api.js";
import { el, fill } from "../dom.js";
import * as queue from "./queue.js";

export const addressOf = (item) =>
    item.upload
        ? `#/${at("job", item.job, "upload", item.upload)}`
        : `#/${at("job", item.job, "new")}?photo=${item.id}`;

// others: uploads that the program has and this device does not. now(): the id of the item or upload on the bench. alone: where
// no photo is on the bench, so that one is worth a strip, and what is kept is not.
export function strip(job, signal, { others = [], now = () => "", alone = false } = {}) {
    const root = el("ul", { class: "strip", "aria-label": "Photos on their way into this job" });
    const rows = new Map();
    const urls = [];
    const row = (key, name, address, picture) => {
        const told = el("span", { class: "strip-words" });
        const none = el("span", { class: "no-picture" });
        const small = picture
            ? el("img", { src: picture, alt: "", loading: "lazy", on: { error: () => small.replaceWith(none) } })
            : none;
        const link = el(
            "a",
            { class: "press quiet", href: address },
            small,
            el("span", { class: "strip-name" }, name),
            told,
        );
        rows.set(key, { root: el("li", {}, link), link, told });
        return rows.get(key);
    };
    const small = (item) => {
        if (!item.blob) return "";
        urls.push(URL.createObjectURL(item.blob));
        return urls.at(-1);
    };
    const draw = () => {
        const items = queue.ofJob(job).filter((item) => !alone || item.state !== "kept");
        const made = items.map((item) => {
            const one = rows.get(item.id) || row(item.id, item.name, addressOf(item), small(item));
            if (item.state === "kept") one.link.removeAttribute("href");
            else one.link.href = addressOf(item);
            one.told.textContent = queue.words(item);
            one.link.setAttribute("aria-current", String([item.id, item.upload].includes(now())));
            return one.root;
        });
        for (const upload of others.filter((one) => !items.some((item) => item.upload === one.upload))) {
            const one =
                rows.get(upload.upload) ||
                row(
                    upload.upload,
                    upload.name || "photo",
                    `#/${at("job", job, "upload", upload.upload)}`,
                    `/api/${at("uploads", upload.upload, "picture")}?longest=200`,
                );
            one.told.textContent = "sent, not kept yet";
            made.push(one.root);
        }
        root.hidden = made.length < (alone ? 1 : 2);
        if (made.length !== root.children.length) fill(root, made);
        const here = root.querySelector('[aria-current="true"]')?.parentElement; // in sight in its own box; the page stays
        if (here) root.scrollTop = here.offsetTop - root.offsetTop - 4;
    };
    queue.changes.addEventListener("change", draw, { signal });
    signal.addEventListener("abort", () => urls.forEach((url) => URL.revokeObjectURL(url)));
    draw();
    return { root, draw };
}
